"""Statics of a pier written out from handbooks, on plain numbers of SI; nothing of the planner's own arithmetic."""

import math

import numpy as np
from scipy.linalg import eigh

G = 9.80665
STEEL, YIELD = 210e9, {"steel": 235e6, "aluminium": 50e6}
MODULUS, DENSITY = {"steel": 210e9, "aluminium": 70e9}, {"steel": 7850, "aluminium": 2700, "concrete": 2500}
CELLS = 20


def faults(column, footing, loads):
    """What fails of a pier that is wholly described, each in a word."""
    at = {name: part.si.value if hasattr(part, "si") else part for model in (column, footing, loads)
          for name, part in vars(model).items()}
    at["width"], at["pad"] = column.width.si.value, (footing.width.value, footing.length.value)
    tube, pushes = _tube(at), _pushes(at)
    weight = (at["mass"] + tube["mass"]) * G
    worst = max(force * arm for force, arm in pushes)
    found = [*_stress(at, tube, worst, weight), *_swing(at, tube, weight)]
    found += {"pad": _pad, "tripod": _tripod}.get(at["kind"], lambda *_: [])(at, pushes, weight)
    return found + (_rods(at, worst, weight) if at["rods"] else [])


def _tube(at):
    outer, square = at["width"], at["shape"] == "square"
    inner = 0.0 if at["wall"] is None else outer - 2 * at["wall"]
    area = (outer**2 - inner**2) * (1 if square else math.pi / 4)
    second = (outer**4 - inner**4) * (1 / 12 if square else math.pi / 64)
    modulus = MODULUS.get(at["material"], 22e9 * ((at["concrete_strength"] / 1e6 + 8) / 10) ** 0.3)
    return {"area": area, "bend": modulus * second, "section": 2 * second / outer,
            "mass": area * at["height"] * DENSITY[at["material"]]}


def _pushes(at):
    """Forces and the heights at which they act: the hand, one who stumbles, the storm."""
    hand = at["height"] + at["push_height"]
    pushes = [(at["push"], hand), (300.0, min(hand, 1.5))]
    if at["kind"] != "tripod":
        pressure = 0.5 * 1.25 * at["storm"] ** 2 * 1.2
        top, shaft = pressure * at["wind_area"], pressure * at["width"] * at["height"]
        moment = top * (at["height"] + at["centre"]) + shaft * at["height"] / 2
        pushes.append((top + shaft, moment / (top + shaft)))
    return pushes


def _stress(at, tube, worst, weight):
    pull = 1.5 * worst / tube["section"]
    if at["material"] == "concrete":
        bears = 0.8 * 0.7 * 0.3 * (at["concrete_strength"] / 1e6) ** (2 / 3) / 1.5 * 1e6
        return ["crack"] if pull - at["mass"] * G / tube["area"] > bears else []
    return ["yield"] if pull + 1.35 * weight / tube["area"] > YIELD[at["material"]] else []


def _swing(at, tube, weight):
    """Frequency and critical load by finite elements of a unit beam, the load on a rigid piece above its top."""
    from tests.pier.test_column import finite_elements

    height, above = at["height"], at["centre"] / at["height"]
    spring, bend = _foot(at), tube["bend"]
    stiffness, mass = finite_elements(
        mass_ratio=at["mass"] / tube["mass"], centre_ratio=above, foot_flexibility=bend / (spring * height),
        inertia_ratio=at["mass"] * at["gyration"] ** 2 / (tube["mass"] * height**2), count=CELLS)
    first = math.sqrt(eigh(stiffness, mass, eigvals_only=True)[0] * bend / (tube["mass"] * height**3)) / (2 * math.pi)
    mount = 8.0 if at["mount_frequency"] is None else at["mount_frequency"]
    found = ["shake"] if (first**-2 + mount**-2) ** -0.5 < 0.895 * mount else []
    h = 1 / CELLS
    element = np.array([[36, 3 * h, -36, 3 * h], [3 * h, 4 * h * h, -3 * h, -h * h],
                        [-36, -3 * h, 36, -3 * h], [3 * h, -h * h, -3 * h, 4 * h * h]]) / (30 * h)
    leaning = np.zeros((2 * (CELLS + 1),) * 2)
    for place in range(CELLS):
        leaning[2 * place:2 * place + 4, 2 * place:2 * place + 4] += element
    leaning[-1, -1] += above
    critical = bend / height**2 / eigh(leaning[1:, 1:], stiffness, eigvals_only=True)[-1]
    critical *= 0.3 if at["material"] == "concrete" else 1.0
    return [*found, *(["buckle"] if 1.35 * (weight - tube["mass"] * G / 2) > 1.05 * critical else [])]


def _foot(at):
    """Springs below the column, one on the other."""
    shear, gives = at["soil_density"] * at["shear_wave_speed"] ** 2 / (1 - at["poisson_ratio"]), [1e-15]
    if at["kind"] in ("pad", "slab"):
        grown = 2 * at["slab_thickness"] if at["kind"] == "slab" else 0.0
        narrow, wide = sorted(side + grown for side in at["pad"])
        gives.append(3 / (8 * shear * (wide * narrow**3 / (3 * math.pi)) ** 0.75))
    if at["kind"] == "tripod":
        gives.append(1 / (1.5 * 2 * shear * at["foot_diameter"] * (at["stance"] / 2) ** 2))
    if at["rods"]:
        reach, lever = at["rod_circle"] / 2, max((at["rod_circle"] - at["width"]) / 2, at["rod_diameter"])
        rod = STEEL * math.pi / 4 * at["rod_diameter"] ** 2 / at["rod_free_length"]
        second = min(2 * lever, 2 * math.pi * reach / at["rods"]) * at["plate_thickness"] ** 3 / 12
        strip = 3 * STEEL * second / lever**3
        gives += [2 / (at["rods"] * spring * reach**2) for spring in (rod, strip)]
    return 1 / sum(gives)


def _pad(at, pushes, weight):
    narrow, wide = sorted(at["pad"])
    deep = at["depth"]
    whole, found = weight + 24000 * narrow * wide * deep, []
    for force, arm in pushes:
        moment = force * (arm + deep)
        off = moment / whole
        found += ["tip"] if 1.5 * moment > 0.9 * whole * narrow / 2 * 1.001 else []
        sinks = off > narrow / 3 or whole / ((narrow - 2 * off) * wide) > at["bearing_pressure"] * 1.001
        found += ["sink"] if sinks else []
    return found + (["frost"] if deep < at["frost_depth"] - 1e-9 else [])


def _tripod(at, pushes, weight):
    force, arm = pushes[0]
    tips = not at["staked"] and 1.5 * force * arm > 0.9 * weight * at["stance"] / 4
    sinks = weight / 3 / (math.pi / 4 * at["foot_diameter"] ** 2) > at["bearing_pressure"] * 1.001
    return [word for word, fails in (("tip", tips), ("sink", sinks)) if fails]


def _rods(at, worst, weight):
    pull = 4 * 1.5 * worst / (at["rods"] * at["rod_circle"])
    found = ["rod"] if pull / (math.pi / 4 * at["rod_diameter"] ** 2) > 0.9 * 400e6 / 1.25 else []
    if at["kind"] in ("pad", "slab"):
        cone = (8.9 if at["anchor"] == "cast-in" else 7.7) * math.sqrt(at["concrete_strength"] / 1e6)
        bears = cone * (at["anchor_depth"] * 1e3) ** 1.5 / 1.5
        thick = at["depth"] - 0.05 if at["kind"] == "pad" else at["slab_thickness"] - 0.03
        found += ["through"] if at["anchor_depth"] > thick * 1.001 else []
        found += ["cone"] if pull - 0.9 * weight / at["rods"] > bears * 1.001 else []
    return found
