"""What mends the 12 V tree, in this order: loads, supply, cables, fuses. Made together, nothing is left."""

import math
from dataclasses import replace

import numpy as np
from astropy import units as u

from planner.pier.wiring.cable import FUSE_FAULT_FACTOR, SERIES_MM2, Cable, loop_resistance, protects
from planner.pier.wiring.circuit import TreeSolution
from planner.pier.wiring.inspection import Fault, Inspection, inspect, limit
from planner.pier.wiring.power import Conditions, PowerTree, cooler_reaches, heat_needed

MOST_STEPS = 200
# To which an insulated box keeps a battery (common practice, no source).
BOX = 5 * u.deg_C
LARGEST = 1000 * u.A


def mend(tree: PowerTree, conditions: Conditions) -> PowerTree | None:
    """Return the tree with everything changed that leaves no fault; None if even the thickest cables do not."""
    grown = _with_loads(tree, conditions)
    for _ in range(MOST_STEPS):
        grown, found = _with_supply(grown, inspect(grown, conditions), conditions)
        fused, found = _with_fuses(grown, found, conditions)
        if not found.faults:
            return fused
        index = _to_grow(fused, found, found.faults)
        if index is None:
            return None
        grown = _thicker(grown, index)
    return None


def only(tree: PowerTree, mended: PowerTree, parts: set[str]) -> PowerTree:
    """Return the tree with nothing mended but some parts: loads, cables, the supply by name, or ``charger``."""
    supply = mended.supply if tree.supply.name in parts else tree.supply
    charged = (mended if "charger" in parts else tree).supply.charged_while_on
    loads = (new if new.name in parts else old for old, new in zip(tree.loads, mended.loads, strict=True))
    cables = (new if new.called in parts else old for old, new in zip(tree.cables, mended.cables, strict=True))
    return replace(tree, supply=replace(supply, charged_while_on=charged), loads=tuple(loads), cables=tuple(cables))


def by_blame(tree: PowerTree, worst: TreeSolution) -> list[int]:
    """Return the cables on the way to the neediest load, the largest drop first; all by burden after a collapse."""
    if worst.collapsed:
        burden = [loop_resistance(cable).value * _power_below(tree, index) for index, cable in enumerate(tree.cables)]
        return sorted(range(len(burden)), key=lambda index: -burden[index])
    spare = worst.load_voltage.value - np.array([load.accepts[0].value for load in tree.loads])
    path = tree.path_to(tree.loads[int(np.argmin(spare))].name)
    return sorted(path, key=lambda index: -worst.cable_drop[index].value)


def _with_loads(tree: PowerTree, conditions: Conditions) -> PowerTree:
    """Return the tree with coolers set to what they reach, heaters strong enough, and a converter where none fits."""
    loads = []
    for load in tree.loads:
        reached = cooler_reaches(load, conditions)
        if load.set_temperature is not None and load.set_temperature.value < reached.value:
            load = replace(load, set_temperature=math.ceil(reached.value) * u.deg_C)
        if tree.supply.voltage > load.accepts[1] or tree.supply.empty_voltage < load.accepts[0]:
            load = replace(load, converter=True)
        need = heat_needed(load, conditions).value
        if load.behaviour == "resistive" and not load.converter:
            need *= max(1.0, float(load.rated_voltage / load.minimum_voltage)) ** 2
        if need > load.greatest_power.value - load.power.value:
            load = replace(load, peak_power=math.ceil(load.power.value + need) * u.W)
        loads.append(load)
    supply = tree.supply
    if any(supply.highest_voltage > load.accepts[1] for load in loads):
        supply = replace(supply, charged_while_on=False)
    return replace(tree, loads=tuple(loads), supply=supply)


def _with_supply(tree: PowerTree, found: Inspection, conditions: Conditions) -> tuple[PowerTree, Inspection]:
    """Return the tree with a supply that gives the peak, and a battery that lasts the night in the cold."""
    supply, kinds = tree.supply, {fault.kind for fault in found.faults}
    if "cold" in kinds:
        supply = replace(supply, battery_temperature=BOX)
    if "supply" in kinds and found.peak_current < LARGEST:
        supply = replace(supply, maximum_current=_up(found.peak_current, 1))
    if "energy" in kinds and found.energy.capacity_needed is not None and np.isfinite(found.energy.capacity_needed):
        supply = replace(supply, capacity=found.energy.capacity_needed)
    return _again(tree, replace(tree, supply=supply), found, conditions)


def _again(old: PowerTree, new: PowerTree, found: Inspection, conditions: Conditions) -> tuple[PowerTree, Inspection]:
    return (old, found) if new == old else (new, inspect(new, conditions))


def _with_fuses(tree: PowerTree, found: Inspection, conditions: Conditions) -> tuple[PowerTree, Inspection]:
    """Return the tree with a fuse wherever one is missing or wrong, from the supply outwards."""
    cables = list(tree.cables)
    for index in sorted(range(len(cables)), key=lambda i: len(tree.path_to(tree.cables[i].feeds))):
        report = found.cables[index]
        wrong = {fault.kind for fault in found.faults if fault.part == report.name}
        above = [cables[i].fuse for i in tree.path_to(report.cable.feeds)[:-1]]
        if report.cable.fuse is None and any(protects(fuse, report.carries, report.fault_current) for fuse in above):
            continue
        if wrong & {"fuse", "unprotected", "short"} and report.fuse is not None:
            cables[index] = replace(
                report.cable, fuse=report.fuse if wrong & {"fuse", "unprotected"} else report.cable.fuse,
                fuse_breaking=max(report.cable.fuse_breaking, _up(report.short_current, 500)),
                fuse_voltage=max(report.cable.fuse_voltage, _up(tree.supply.highest_voltage, 1)))
    return _again(tree, replace(tree, cables=tuple(cables)), found, conditions)


def _to_grow(tree: PowerTree, found: Inspection, faults: tuple[Fault, ...]) -> int | None:
    """Return the cable that should be thicker next; None if none of the series helps."""
    order: list[int] = []
    for fault in faults:
        if fault.kind == "collapse":
            order += by_blame(tree, found.worst)
        elif fault.kind in ("ampacity", "fuse"):
            order.append(fault.index)
        elif fault.kind == "unprotected":
            order += _for_protection(tree, found, fault.index)
        elif fault.kind in ("low", "heater"):
            path = tree.path_to(tree.loads[fault.index].name)
            order += sorted(path, key=lambda index: -found.worst.cable_drop[index].value)
    return next((index for index in order if _next_section(tree.cables[index]) is not None), None)


def _for_protection(tree: PowerTree, found: Inspection, index: int) -> list[int]:
    """Return the cable itself if no fuse suits it or the supply limits the short, else the longest way's first."""
    report = found.cables[index]
    way = sorted(tree.path_to(report.cable.feeds), key=lambda i: -loop_resistance(tree.cables[i]).value)
    far = report.fuse is not None and report.fault_current < min(FUSE_FAULT_FACTOR * report.fuse, limit(tree) * u.A)
    return way if far else [index, *way]


def _power_below(tree: PowerTree, index: int) -> float:
    """Return the peak power of the loads that a cable feeds [W]."""
    return sum(load.greatest_power.value for load in tree.loads if index in tree.path_to(load.name))


def _next_section(cable: Cable) -> float | None:
    return next((area for area in SERIES_MM2 if area > cable.cross_section.value * (1 + 1e-6)), None)


def _thicker(tree: PowerTree, index: int) -> PowerTree:
    cables = list(tree.cables)
    cables[index] = replace(cables[index], cross_section=_next_section(cables[index]) * u.mm**2)
    return replace(tree, cables=tuple(cables))


def _up(value: u.Quantity, step: float) -> u.Quantity:
    """Return the next multiple of the step that is not below the value."""
    return math.ceil(value.value / step - 1e-9) * step * value.unit if np.isfinite(value) else value
