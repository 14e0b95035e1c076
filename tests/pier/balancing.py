"""Whoever follows the advice about the balance: random heads, and torques summed in space on plain numbers.

The advice is read as the command prints it; what it leaves is reckoned without any of the planner's arithmetic.
Run ``python -m tests.pier.balancing 1000 17`` for many; the suite follows a few.
"""

import itertools
import json
import sys

import numpy as np

GRAVITY = 9.80665
STEP = np.radians(6)


def advice(head):
    """The document of the command for a head of plain numbers (kg, mm, N m)."""
    from astropy import units as u

    from planner.fields import document
    from planner.files.json_text import json_text
    from planner.pier import Assembly, Bar, Counterweight, TubePart, plan_balance

    units = {"mass": u.kg, "housing_mass": u.kg, "payload": u.kg, "friction": u.N * u.m}

    def with_units(table):
        return {key: value if isinstance(value, str | bool | float) and key in ("name", "slides", "payload_limit")
                else value * units.get(key, u.mm) for key, value in table.items()}

    plan = plan_balance(Assembly(
        parts=tuple(TubePart(**with_units(part)) for part in head["tube"]), bar=Bar(**with_units(head["bar"])),
        counterweights=tuple(Counterweight(**with_units(one)) for one in head["weights"]), **with_units(head["mount"])))
    return json.loads(json_text(document(plan), "pier_balance"))


def random_head(draw):
    """A tube of a few parts with or without room to slide, weights on a bar of some length."""
    long = draw.uniform(300, 1200)
    tube = [{"name": "tube", "mass": draw.uniform(2, 25), "along": draw.uniform(-150, 150), "height": draw.uniform(
        60, 200), "width": draw.uniform(80, 350), "length": long, "slides": bool(draw.random() < 0.9)}]
    for n in range(draw.integers(1, 6)):
        tube.append({"name": f"part {n}", "mass": draw.uniform(0.1, 3), "along": draw.uniform(-0.6, 0.6) * long,
                     "across": float(draw.choice([0.0, draw.uniform(-150, 150)])), "height": draw.uniform(0, 400),
                     "slides": bool(draw.random() < 0.9)})
    start, length = draw.uniform(60, 200), draw.uniform(150, 500)
    weights, place = [], start
    for n in range(draw.integers(0, 5)):
        thick = draw.uniform(20, 60)
        place += draw.uniform(0, 60) + thick
        if place > start + length:
            break
        weights.append({"name": f"weight {n}", "mass": draw.uniform(1, 10), "position": place - thick / 2,
                        "thickness": thick})
    mount = {"saddle_distance": draw.uniform(100, 300), "saddle_travel": draw.uniform(0, 120), "housing_mass":
             draw.uniform(0, 8), "housing_position": draw.uniform(-50, 60), "payload": draw.uniform(10, 60)}
    if draw.random() < 0.3:
        mount["friction"] = draw.uniform(0.15, 1.0)
    return {"tube": tube, "weights": weights, "mount": mount,
            "bar": {"mass": draw.uniform(0, 3), "start": start, "end": start + length}}


def followed(head, document):
    """The head after every move of the document is made, one after the other, as written."""
    after = {**head, "tube": [dict(part) for part in head["tube"]], "weights": [dict(one) for one in head["weights"]],
             "mount": dict(head["mount"])}
    for move in document["moves"]:
        named = [one for one in after["weights"] if one["name"] == move["name"]]
        if move["action"] == "slide":
            for part in after["tube"]:
                part["along"] += move["shift_mm"] if part.get("slides", True) else 0.0
            after["mount"]["saddle_travel"] = max(0.0, after["mount"]["saddle_travel"] - abs(move["shift_mm"]))
        elif move["action"] == "add":
            carrier = next(part for part in after["tube"] if part["name"] == move["on"])
            after["tube"].append({"name": move["name"], "mass": move["mass_kg"], "slides": carrier["slides"], **{
                key: move[f"{key}_mm"] for key in ("along", "across", "height")}})
        elif move["action"] == "hang":
            after["weights"].append({"name": move["name"], "mass": move["mass_kg"], "position": move["position_mm"]})
        elif move["action"] == "take off":
            after["weights"].remove(named[0])
        else:
            assert move["action"] in ("move", "replace")
            named[0].update(mass=move["mass_kg"], position=move["position_mm"])
    return after


def greatest_torques(head):
    """Largest torque about each axis over all directions of the tube on a level polar axis, every mass turned."""
    rows = [(p["mass"], p["along"], p.get("across", 0), head["mount"]["saddle_distance"] + p["height"])
            for p in head["tube"]]
    rows += [(w["mass"], 0, 0, -w["position"]) for w in head["weights"]]
    bar = head["bar"]
    rows += [(bar["mass"] / 50, 0, 0, -(low + high) / 2) for low, high in
             itertools.pairwise(np.linspace(bar["start"], bar["end"], 51))]
    rows += [(head["mount"]["housing_mass"], 0, 0, head["mount"]["housing_position"])]
    kg, place = np.array(rows)[:, 0], np.array(rows)[:, 1:] / 1000
    on_tube = np.arange(len(kg)) < len(head["tube"])
    angles = np.arange(0, 2 * np.pi, STEP)
    c, s, o, one = np.cos(angles), np.sin(angles), np.zeros_like(angles), np.ones_like(angles)
    spin = np.array([[c, -s, o], [s, c, o], [o, o, one]]).transpose(2, 0, 1)  # tube about the declination axis (z)
    roll = np.array([[one, o, o], [o, c, -s], [o, s, c]]).transpose(2, 0, 1)  # head about the polar axis (x), level
    there = np.einsum("hij,djk,nk->hdni", roll, spin, place)
    weight = np.array([0, 0, -GRAVITY])[None, None, None, :] * kg[None, None, :, None]
    torque = np.cross(there, weight)
    polar = np.abs(torque.sum(axis=2)[..., 0]).max()
    declination = np.abs(np.einsum("hdi,hi->hd", torque[:, :, on_tube].sum(axis=2), roll[:, :, 2])).max()
    return polar, declination, kg.sum()


def faults(head, document):
    """Everything about the moves that a hand cannot do, and what they leave."""
    after, found = followed(head, document), []
    edge = after["bar"]["start"]
    for one in sorted(after["weights"], key=lambda one: one["position"]):
        half = one.get("thickness", 0) / 2
        found += ["weights overlap or hang off the bar"] if one["position"] - half < edge - 0.02 else []
        edge = one["position"] + half
    found += ["a weight hangs beyond the bar"] if after["weights"] and edge > after["bar"]["end"] + 0.02 else []
    slid = sum(move["shift_mm"] for move in document["moves"] if move["action"] == "slide")
    if abs(slid) > head["mount"]["saddle_travel"] + 0.02 and not any("dovetail" in text for text in
                                                                      document["suggestions"]):
        found.append("slid beyond the saddle")
    if any("no more room" in text for text in document["suggestions"]) and not any(p["slides"] for p in head["tube"]):
        found.append("no room where nothing slides")
    found += [f"{new['name']} sits where no part is" for new in after["tube"][len(head["tube"]):]
              if not any(covers(part, new) for part in after["tube"][:len(head["tube"])])]
    mass = sum(part["mass"] for part in after["tube"])
    if abs(document["after"]["tube_mass_kg"] - mass) > 1e-6:
        found.append("what is added is not counted")
    over = mass > 0.75 * head["mount"]["payload"]
    if over != any(one["part"] == "payload" for one in document["objections"]):
        found.append("payload")
    polar, declination, moving = greatest_torques(after)
    holds = head["mount"].get("friction", moving * GRAVITY / 1000) * 1.0001
    if max(polar, declination) > holds:
        found.append(f"{polar:.3f} and {declination:.3f} N m are left, friction holds {holds:.3f}")
    again = advice(after)
    if again["moves"] or any(one["part"] != "payload" for one in again["objections"]):
        found.append(f"asked again: {again['suggestions']}")
    return found


def covers(part, new):
    """Whether a weight's place is on a part."""
    return abs(part["along"] - new["along"]) <= part.get("length", 0) / 2 + 0.5 and (
        abs(part.get("across", 0) - new["across"]) <= part.get("width", 0) / 2 + 5)


def hopeless(head):
    """Whether no weight on a part, no slide and no weight on the bar can balance this head; found by hand's reasons."""
    tube = head["tube"]
    across, along = (sum(p["mass"] * p.get(key, 0) for p in tube) for key in ("across", "along"))
    reach = max(-np.sign(across) * p.get("across", 0) + p.get("width", 0) / 2 for p in tube)
    middle = [p for p in tube if abs(p.get("across", 0)) <= max(p.get("width", 0) / 2, 5)]  # others lean sideways
    end = max(-np.sign(along) * p["along"] + p.get("length", 0) / 2 for p in middle or tube)
    bar = head["bar"]
    tube_side = sum(p["mass"] * (head["mount"]["saddle_distance"] + p["height"]) for p in tube)
    tube_side += head["mount"]["housing_mass"] * head["mount"]["housing_position"]
    slides = sum(p["mass"] for p in tube if p["slides"])
    return reach < 50 or (end < 50 and abs(along) > 300 * slides) or (
        tube_side < bar["mass"] * (bar["start"] + bar["end"]) / 2)


def follow(count, seed):
    """Return how many heads were in balance, mended and refused, and everything wrong that the advice left."""
    draw = np.random.default_rng(seed)
    tally, left = {"good": 0, "mended": 0, "refused": 0}, []
    for number in range(count):
        head = random_head(draw)
        document = advice(head)
        if not document["can_be_balanced"]:
            tally["refused"] += 1
            left += [] if hopeless(head) else [(number, "refused", document["suggestions"])]
            continue
        tally["mended" if document["moves"] else "good"] += 1
        left += [(number, text, document["suggestions"]) for text in faults(head, document)]
    return tally, left


if __name__ == "__main__":
    tally, left = follow(int(sys.argv[1]), int(sys.argv[2]))
    print(tally, len(left), *left[:8], sep="\n")
