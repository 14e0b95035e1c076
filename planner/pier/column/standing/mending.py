"""What mends a pier: each objection grows what cures it, step by step, until nothing speaks against the pier."""

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from astropy import units as u

from planner.checks import given
from planner.pier.column.footing import Footing
from planner.pier.column.model import Column, TopLoads
from planner.pier.column.standing.ground import CONCRETE_WEIGHT
from planner.pier.column.standing.inspection import COVER, Check, inspect
from planner.pier.column.stiffness import footing_stiffness

Pier = tuple[Column, Footing]
MOST_STEPS = 150
# To which the ground of temperate lands freezes, where the local figure is not known (common practice, no source).
USUAL_FROST = 0.8 * u.m
LEAST_ANCHOR = 40 * u.mm  # EN 1992-4 clause 1.4, from memory
LARGEST_BOARD = 300 * u.mm  # under a tripod's foot
# Outer diameters and walls of steel tube (EN 10220), thicknesses of plate, and what the thread leaves of a rod.
TUBES = (114.3, 139.7, 168.3, 219.1, 273.0, 323.9, 406.4, 508.0, 610.0, 711.0, 813.0, 1016.0, 1219.0)
WALLS = (4.0, 5.0, 6.3, 8.0, 10.0, 12.5, 16.0, 20.0, 25.0, 32.0, 40.0)
PLATES = (10.0, 12.0, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0, 60.0, 80.0, 100.0)
ROD_ROOTS = {"M10": 8.2, "M12": 9.9, "M16": 13.5, "M20": 16.9, "M24": 20.3, "M30": 25.7, "M36": 31.1, "M42": 36.5,
             "M48": 41.9, "M56": 49.2, "M64": 56.6}


def mended(column: Column, footing: Footing, loads: TopLoads) -> Pier | None:
    """Return column and footing that nothing speaks against, or None if no usual size does it.

    The loads stay; what is not given is filled in with the least that will do.
    """
    for _ in range(MOST_STEPS):
        cures = {check.cure for check in inspect(column, footing, loads) if check.share > 1}
        if not cures:
            return column, footing
        before = column, footing
        for cure in sorted(cures):
            column, footing = _cured(cure, column, footing, loads)
        if (column, footing) == before:
            return None
    return None


def _pad(column: Column, footing: Footing, loads: TopLoads) -> Pier:
    """Deepen a pad to a little more than half of its width, while the soil bears twice its weight, then widen it."""
    if footing.depth is None:
        return column, replace(footing, depth=0.3 * u.m)
    light = 2 * CONCRETE_WEIGHT * footing.depth < footing.bearing_pressure
    if light and footing.depth < 0.6 * min(footing.width, footing.length):
        return _cured("depth", column, footing, loads)
    return _cured("wider", column, footing, loads)


def _thicker_column(column: Column, footing: Footing, loads: TopLoads) -> Pier:
    if column.material == "concrete":
        wider = replace(column, width=_step(column.width, 0.05, 3.0).to(u.mm))
    else:
        width = _next(TUBES, column.width)
        least = max(WALLS[0], width.value / 50, 0.0 if column.wall is None else column.wall.value)
        wider = replace(column, width=width, wall=next((one for one in WALLS if one >= least), least) * u.mm)
    return wider, replace(footing, rod_circle=max(footing.rod_circle, _room(wider, footing)))


def _rods(column: Column, footing: Footing, loads: TopLoads) -> Pier:
    """Set the rods outside the column, then take four, then thicker ones, then a wider circle."""
    if footing.rod_circle < _room(column, footing):
        return column, replace(footing, rod_circle=_room(column, footing))
    if footing.rods < 4:
        return column, replace(footing, rods=4)
    thicker = _next(tuple(ROD_ROOTS.values()), footing.rod_diameter)
    if thicker > footing.rod_diameter:
        return column, replace(footing, rod_diameter=thicker)
    return column, replace(footing, rod_circle=min(footing.rod_circle + 50 * u.mm, 5000 * u.mm))


def _room(column: Column, footing: Footing) -> u.Quantity[u.mm]:
    """Return the least circle of rods outside a column."""
    return 10 * math.ceil((column.width + 3 * footing.rod_diameter).value / 10) * u.mm


def _anchor_depth(column: Column, footing: Footing, loads: TopLoads) -> Pier:
    """Give rods room from the pad's edge, set them deeper, then take more of them."""
    if footing.anchor_depth is None:
        return column, replace(footing, anchor_depth=10 * math.ceil(0.8 * footing.rod_diameter.value) * u.mm)
    if footing.kind == "slab" and footing.anchor_depth + 20 * u.mm + COVER["slab"] > footing.slab_thickness:
        more = footing.rods < 8
        return (column, replace(footing, rods=footing.rods + 2)) if more else _cured("own pad", column, footing, loads)
    edge = (min(footing.width, footing.length) - footing.rod_circle) / 2
    if footing.kind == "pad" and edge < 1.5 * footing.anchor_depth:
        return _cured("wider", column, footing, loads)
    if footing.anchor_depth < 20 * footing.rod_diameter or footing.rods >= 8:
        return column, replace(footing, anchor_depth=min(footing.anchor_depth + 20 * u.mm, 3000 * u.mm))
    return column, replace(footing, rods=footing.rods + 2)


def _fit(column: Column, footing: Footing, loads: TopLoads) -> Pier:
    """Set rods no deeper than a slab lets, where that is worth anything; else take a pad."""
    deep = footing.slab_thickness - COVER["slab"]
    if deep < LEAST_ANCHOR:
        return _cured("own pad", column, footing, loads)
    return column, replace(footing, anchor_depth=deep.to(u.mm))


def _bolts(column: Column, footing: Footing, loads: TopLoads) -> Pier:
    footing = replace(footing, rods=4, rod_diameter=ROD_ROOTS["M16"] * u.mm)
    return column, replace(footing, rod_circle=max(footing.rod_circle, _room(column, footing)))


def _cured(cure: str, column: Column, footing: Footing, loads: TopLoads) -> Pier:
    """Return the pier with one step of a cure made; what makes it stiffer grows whatever gives most."""
    if cure == "stiffness":
        cure = _gives_most(column, footing, loads)
    if cure in OF_THE_FOOT:
        return column, replace(footing, **OF_THE_FOOT[cure](footing))
    if cure in OF_THE_COLUMN:
        return replace(column, **OF_THE_COLUMN[cure](column)), footing
    return OF_BOTH[cure](column, footing, loads)


def _gives_most(column: Column, footing: Footing, loads: TopLoads) -> str:
    """Return the cure of what gives most under a push at the load's centre."""
    high, above = column.height.to_value(u.m), loads.centre.to_value(u.m)
    gives = {"column": (high**3 / 3 + high**2 * above + high * above**2) / column.stiffness.value}
    for name, east, north in footing_stiffness(footing, column.width).parts:
        gives[name] = (high + above) ** 2 / min(east.value, north.value)
    boards = footing.kind == "tripod" and footing.foot_diameter < LARGEST_BOARD
    soil = "wider" if footing.kind == "pad" else "feet" if boards else "own pad"
    return {"column": "column", "foot plate": "plate", "rods under the foot plate": "rods", "soil": soil,
            "joists": "own pad"}[max(gives, key=lambda name: gives[name])]


def _wider(footing: Footing) -> dict[str, Any]:
    """Widen the shorter side of a pad, or both of a square."""
    shorter = min(footing.width, footing.length)
    return {side: _step(getattr(footing, side), 0.1, 20.0) for side in ("width", "length")
            if getattr(footing, side) == shorter}


OF_THE_FOOT: dict[str, Callable[[Footing], dict[str, Any]]] = {
    "wider": _wider, "stakes": lambda it: {"staked": True}, "frost depth": lambda it: {"frost_depth": USUAL_FROST},
    "depth": lambda it: {"depth": _step(given(it.depth), 0.1, 10.0)},
    "feet": lambda it: {"foot_diameter": _step(it.foot_diameter, 0.025, 2.0).to(u.mm)},
    "slab reach": lambda it: {"slab_reach": 0.5 * u.m if it.slab_reach is None else _step(it.slab_reach, 0.1, 50.0)},
    "plate": lambda it: {"plate_thickness": _next(PLATES, 0 * u.mm if it.plate_thickness is None else
                                                  it.plate_thickness)},
    "own pad": lambda it: {"kind": "pad", "width": max(it.width, 0.6 * u.m), "length": max(it.length, 0.6 * u.m)},
}
OF_THE_COLUMN: dict[str, Callable[[Column], dict[str, Any]]] = {
    "wall": lambda it: {"wall": _next(WALLS, given(it.wall))}, "concrete": lambda it: {"concrete_strength": 25 * u.MPa}}
OF_BOTH: dict[str, Callable[[Column, Footing, TopLoads], Pier]] = {
    "pad": _pad, "column": _thicker_column, "rods": _rods, "anchor depth": _anchor_depth, "fit": _fit, "bolts": _bolts}


def objections_of(checks: tuple[Check, ...]) -> tuple[Check, ...]:
    """Return the checks that speak against the pier, the unsafe ones first."""
    return tuple(sorted((check for check in checks if check.share > 1), key=lambda check: check.grade == "check"))


def _next(series: tuple[float, ...], value: u.Quantity) -> u.Quantity[u.mm]:
    return next((size for size in series if size > value.to_value(u.mm) + 1e-6), value.to_value(u.mm)) * u.mm


def _step(value: u.Quantity, step: float, most: float) -> u.Quantity[u.m]:
    """Return the next whole multiple of a step above a length."""
    return min(step * (math.floor(value.to_value(u.m) / step + 1e-6) + 1), most) * u.m
