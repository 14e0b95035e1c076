"""What the solved tree says: which load lacks voltage, which cable is to blame, what mends it, and the fuses."""

from dataclasses import dataclass, replace

import numpy as np
from astropy import units as u

from planner.pier.cable import FUSE_FAULT_FACTOR, SERIES_MM2, Cable, loop_resistance
from planner.pier.circuit import TreeSolution, solve_tree
from planner.pier.fuse import area_text, fuse_advice, fuse_in_use, fuse_rating
from planner.pier.power import Conditions, PowerTree, shortfalls


@dataclass(frozen=True, kw_only=True)
class LoadVoltage:
    """One load, in the worst of the cases: an empty battery with everything at its peak, a full one at rest."""

    name: str
    working: u.Quantity[u.V]
    lowest: u.Quantity[u.V]  # supply at its lowest, everything at its peak; NaN if the tree collapses
    highest: u.Quantity[u.V]  # what reaches it if nothing draws: the supply without load
    minimum: u.Quantity[u.V]
    maximum: u.Quantity[u.V]
    verdict: str  # enough, too low, too high


@dataclass(frozen=True, kw_only=True)
class CableReport:
    """One cable at the peak with the supply at its lowest, and its fuse."""

    name: str
    cable: Cable
    current: u.Quantity[u.A]
    drop: u.Quantity[u.V]
    drop_share: float  # of the supply's voltage
    fuse: u.Quantity[u.A] | None  # None: no rating protects this cable at that current
    fuse_needed: bool  # False if the fuse before it protects this cable too
    fault_current: u.Quantity[u.A]  # a dead short at the far end, supply at its lowest
    advice: str  # empty if all is well


@dataclass(frozen=True, kw_only=True)
class CrossSectionChange:
    """A cable that should be thicker."""

    name: str
    index: int
    present: u.Quantity[u.mm**2]
    wanted: u.Quantity[u.mm**2]


@dataclass(frozen=True, kw_only=True)
class Wiring:
    """The tree, judged."""

    working: TreeSolution
    worst: TreeSolution
    loads: tuple[LoadVoltage, ...]
    cables: tuple[CableReport, ...]
    weakest: int | None  # index of the cable that costs the neediest load most; None without cables
    changes: tuple[CrossSectionChange, ...]
    mended: PowerTree | None  # with the changes made; None if no cross-section of the series mends it
    reasons: tuple[str, ...]


def judge_wiring(tree: PowerTree, conditions: Conditions) -> Wiring:
    """Return voltages against tolerances, drops, the weakest link and what mends it, and a fuse for each cable.

    Parameters
    ----------
    tree : PowerTree
        Supply, hubs, loads and cables.
    conditions : Conditions
        The night.

    Returns
    -------
    Wiring
        The worst case is the supply at its lowest voltage with every load at its peak at once.
    """
    working = solve_tree(tree, conditions)
    worst = _worst(tree, conditions)
    loads = tuple(_load_voltage(tree, index, working, worst) for index in range(len(tree.loads)))
    weakest = weakest_link(tree, worst)
    changes, mended = mend(tree, conditions)
    cables = tuple(_cable_report(tree, conditions, index, worst) for index in range(len(tree.cables)))
    reasons = _reasons(tree, worst, loads, weakest, changes, mended)
    return Wiring(working=working, worst=worst, loads=loads, cables=cables, weakest=weakest, changes=changes,
                  mended=mended, reasons=(*reasons, *shortfalls(tree, conditions)))


def weakest_link(tree: PowerTree, worst: TreeSolution) -> int | None:
    """Return the index of the cable with the largest drop on the way to the load with the least to spare.

    Without a solution (the tree collapses) the cable of most resistance times the power it must carry is named.
    """
    if not tree.cables:
        return None
    if worst.collapsed:
        burden = [_resistance_20(cable) * _power_below(tree, index) for index, cable in enumerate(tree.cables)]
        return int(np.argmax(burden))
    spare = worst.load_voltage.value - np.array([load.minimum_voltage.value for load in tree.loads])
    path = tree.path_to(tree.loads[int(np.argmin(spare))].name)
    return max(path, key=lambda index: worst.cable_drop[index].value)


def mend(tree: PowerTree, conditions: Conditions) -> tuple[tuple[CrossSectionChange, ...], PowerTree | None]:
    """Return the thicker cables that bring every load within its tolerance, and the tree with them.

    One cable is changed if one suffices, the one nearest to the blame first and the thinnest that does; otherwise
    the weakest link grows step by step along the standard series.

    Returns
    -------
    tuple
        Empty changes and the tree itself if nothing lacks; the changes tried and None if even the thickest
        of the series is not enough.
    """
    if _all_enough(tree, conditions):
        return (), tree
    for index in _by_blame(tree, conditions):
        for area in _thicker(tree.cables[index]):
            single = _with_section(tree, index, area)
            if _all_enough(single, conditions):
                return _changes(tree, single), single
    grown = tree
    while True:
        growable = [index for index in _by_blame(grown, conditions) if _thicker(grown.cables[index])]
        if not growable:
            return _changes(tree, grown), None
        grown = _with_section(grown, growable[0], _thicker(grown.cables[growable[0]])[0])
        if _all_enough(grown, conditions):
            return _changes(tree, grown), grown


def _worst(tree: PowerTree, conditions: Conditions) -> TreeSolution:
    return solve_tree(tree, conditions, state="peak", supply_voltage=tree.supply.empty_voltage)


def _all_enough(tree: PowerTree, conditions: Conditions) -> bool:
    worst = _worst(tree, conditions)
    least = np.array([load.minimum_voltage.value for load in tree.loads])
    return not worst.collapsed and bool(np.all(worst.load_voltage.value >= least))


def _by_blame(tree: PowerTree, conditions: Conditions) -> list[int]:
    """Return the cables on the way to the neediest load, the largest drop first; all by burden after a collapse."""
    worst = _worst(tree, conditions)
    if worst.collapsed:
        burden = [_resistance_20(cable) * _power_below(tree, index) for index, cable in enumerate(tree.cables)]
        return sorted(range(len(burden)), key=lambda index: -burden[index])
    spare = worst.load_voltage.value - np.array([load.minimum_voltage.value for load in tree.loads])
    path = tree.path_to(tree.loads[int(np.argmin(spare))].name)
    return sorted(path, key=lambda index: -worst.cable_drop[index].value)


def _resistance_20(cable: Cable) -> float:
    return loop_resistance(cable).value


def _power_below(tree: PowerTree, index: int) -> float:
    """Return the peak power of the loads that a cable feeds [W]."""
    return sum(load.greatest_power.value for load in tree.loads if index in tree.path_to(load.name))


def _thicker(cable: Cable) -> list[float]:
    return [area for area in SERIES_MM2 if area > cable.cross_section.value * (1 + 1e-6)]


def _with_section(tree: PowerTree, index: int, area: float) -> PowerTree:
    cables = list(tree.cables)
    cables[index] = replace(cables[index], cross_section=area * u.mm**2)
    return replace(tree, cables=tuple(cables))


def _changes(before: PowerTree, after: PowerTree) -> tuple[CrossSectionChange, ...]:
    pairs = enumerate(zip(before.cables, after.cables, strict=True))
    return tuple(CrossSectionChange(name=old.called, index=index, present=old.cross_section, wanted=new.cross_section)
                 for index, (old, new) in pairs if old.cross_section != new.cross_section)


def _load_voltage(tree: PowerTree, index: int, working: TreeSolution, worst: TreeSolution) -> LoadVoltage:
    load = tree.loads[index]
    lowest = worst.load_voltage[index]
    verdict = "enough" if lowest >= load.minimum_voltage else "too low"  # NaN is too low
    if tree.supply.voltage > load.maximum_voltage:
        verdict = "too high"
    return LoadVoltage(name=load.name, working=working.load_voltage[index], lowest=lowest, highest=tree.supply.voltage,
                       minimum=load.minimum_voltage, maximum=load.maximum_voltage, verdict=verdict)


def _cable_report(tree: PowerTree, conditions: Conditions, index: int, worst: TreeSolution) -> CableReport:
    cable = tree.cables[index]
    current, drop = worst.cable_current[index], worst.cable_drop[index]
    fuse = None if worst.collapsed else fuse_rating(current, cable.cross_section)
    fault = _fault_current(tree, conditions, index)
    upstream = _fuse_before(tree, index, worst)
    needed = upstream is None or upstream > cable.may_carry or fault < FUSE_FAULT_FACTOR * upstream
    return CableReport(
        name=cable.called, cable=cable, current=current, drop=drop, drop_share=float(drop / worst.supply_voltage),
        fuse=fuse, fuse_needed=bool(needed), fault_current=fault, advice=fuse_advice(cable, current, fuse, fault))


def _fuse_before(tree: PowerTree, index: int, worst: TreeSolution) -> u.Quantity | None:
    """Return the smallest rating between the supply and a cable, its own left out; None at the supply."""
    path = tree.path_to(tree.cables[index].feeds)[:-1]
    ratings = [fuse_in_use(tree.cables[i], worst.cable_current[i]) for i in path]
    known = [rating for rating in ratings if rating is not None]
    return min(known) if known else None


def _fault_current(tree: PowerTree, conditions: Conditions, index: int) -> u.Quantity[u.A]:
    """Return the current of a dead short at the far end of a cable, the supply at its lowest."""
    path = tree.path_to(tree.cables[index].feeds)
    loop = [loop_resistance(tree.cables[i], temperature=conditions.temperature).value for i in path]
    total = sum(loop) + tree.supply.internal_resistance.value
    current = tree.supply.empty_voltage.value / total if total > 0 else np.inf
    if tree.supply.kind == "mains supply" and tree.supply.maximum_current is not None:
        current = min(current, tree.supply.maximum_current.value)
    return current * u.A


def _reasons(tree: PowerTree, worst: TreeSolution, loads: tuple[LoadVoltage, ...], weakest: int | None,
             changes: tuple[CrossSectionChange, ...], mended: PowerTree | None) -> tuple[str, ...]:
    words = []
    if worst.collapsed:
        words.append(f"At {worst.supply_voltage:.1f} the cables cannot carry the peak power at any voltage: the loads "
                     "would drop out.")
    words += [f"{load.name}: {load.lowest:.2f} arrive at the peak, it needs {load.minimum:g}."
              for load in loads if load.verdict == "too low" and not worst.collapsed]
    words += [f"{load.name}: the supply's {load.highest:g} is more than its {load.maximum:g}."
              for load in loads if load.verdict == "too high"]
    supply = tree.supply
    if supply.maximum_current is not None and worst.supply_current > supply.maximum_current:
        words.append(f"{supply.name} must give {worst.supply_current:.1f} at the peak, more than its "
                     f"{supply.maximum_current:g}.")
    if weakest is not None and not worst.collapsed:
        words.append(f"The weakest link is {tree.cables[weakest].called}: {worst.cable_drop[weakest]:.2f} lost there.")
    words += [f"Take {area_text(change.wanted)} instead of {area_text(change.present)} for {change.name}."
              for change in changes]
    if mended is None:
        words.append("Even the thickest cables of the series are not enough: shorten them, or raise the voltage.")
    return tuple(words)
