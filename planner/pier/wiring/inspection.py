"""The 12 V tree against everything that can burn, drop out or run dry: one fault for each thing that is wrong."""

from dataclasses import dataclass
from typing import Annotated, Literal

import numpy as np
from astropy import units as u

from planner.fields import Key, told
from planner.pier.objection import CHECK, UNSAFE, State
from planner.pier.wiring.cable import (
    FUSE_FAULT_FACTOR,
    FUSE_LOADING,
    Cable,
    ampacity,
    area_text,
    fuse_rating,
    loop_resistance,
    protects,
)
from planner.pier.wiring.circuit import TreeSolution, solve_tree
from planner.pier.wiring.energy import NightEnergy, celsius_text, night_energy
from planner.pier.wiring.power import INRUSH_FACTOR, Conditions, PowerTree, cooler_reaches, heat_needed

# An electronic supply cuts off, or limits, at most at so many times its rated current (common practice, no source).
LIMIT_FACTOR = 1.5
VoltageVerdict = Literal["enough", "too low", "too high"]


@dataclass(frozen=True, kw_only=True)
class Fault:
    """One thing that is wrong with the tree."""

    part: str
    finding: str
    kind: str  # collapse, low, high, ampacity, fuse, unprotected, short, supply, energy, cold, heater, cooler
    index: int = 0  # of the cable or the load
    grade: State = UNSAFE


@dataclass(frozen=True, kw_only=True)
class LoadVoltage:
    """One load, in the worst of the cases: an empty battery with everything at its peak, a full one at rest."""

    name: Annotated[str, "of the load"]
    working: Annotated[u.Quantity[u.V], "while all works", Key("working_voltage_V")]
    lowest: Annotated[u.Quantity[u.V], "supply at its lowest, everything at its peak", Key("lowest_voltage_V")]
    highest: Annotated[u.Quantity[u.V], "what reaches it if nothing draws", Key("highest_voltage_V")]
    minimum: Annotated[u.Quantity[u.V], "that it accepts", Key("minimum_voltage_V")]
    maximum: Annotated[u.Quantity[u.V], "that it accepts", Key("maximum_voltage_V")]
    verdict: Annotated[VoltageVerdict, "on its voltage"]


@dataclass(frozen=True, kw_only=True)
class CableReport:
    """One cable at the peak, and its fuse."""

    name: Annotated[str, "of the cable"]
    cable: Cable
    current: Annotated[u.Quantity[u.A], "the larger of those at the supply's lowest and highest voltage"]
    carries: Annotated[u.Quantity[u.A], "in this air and bundle"]
    drop: Annotated[u.Quantity[u.V], "the supply at its lowest"]
    drop_share: Annotated[float, "of the supply's voltage"]
    fuse: u.Quantity[u.A] | None  # that suits it; None: no rating protects this cable at that current
    protected: Annotated[bool, "by its own fuse, one before it, or a supply that limits its current"]
    fault_current: Annotated[u.Quantity[u.A], "a dead short at the far end, supply at its lowest"]
    short_current: Annotated[u.Quantity[u.A], "a dead short behind its fuse, supply at its highest"]
    to_fit: Annotated[u.Quantity[u.A] | None, "of its fuse, once all is mended", Key("fuse_A")] = None
    fitted = told(u.A, "of the fuse that it has", lambda report: report.cable.fuse)
    length = told(u.m, "one way", lambda report: report.cable.length)
    cross_section = told(u.mm**2, "of one conductor", lambda report: report.cable.cross_section)


@dataclass(frozen=True, kw_only=True)
class Inspection:
    """The tree solved and looked at."""

    working: TreeSolution
    worst: TreeSolution  # the supply at its lowest, everything at its peak
    loads: tuple[LoadVoltage, ...]
    cables: tuple[CableReport, ...]
    energy: NightEnergy
    peak_current: u.Quantity[u.A]  # that the supply must give, the largest inrush included
    faults: tuple[Fault, ...]


def inspect(tree: PowerTree, conditions: Conditions) -> Inspection:
    """Return voltages, cables, fuses and the night's energy, and every fault there is."""
    working = solve_tree(tree, conditions)
    worst = solve_tree(tree, conditions, state="peak", supply_voltage=tree.supply.empty_voltage)
    full = solve_tree(tree, conditions, state="peak", supply_voltage=tree.supply.highest_voltage)
    loads = tuple(_load_voltage(tree, index, working, worst) for index in range(len(tree.loads)))
    current = np.maximum(worst.cable_current, full.cable_current)
    cables = tuple(_cable_report(tree, conditions, index, worst, current[index]) for index in range(len(tree.cables)))
    energy = night_energy(tree, conditions)
    peak = max(worst.supply_current, full.supply_current) + _inrush(tree, worst)
    faults = [*_voltage_faults(worst, loads), *_supply_faults(tree, peak), *_load_faults(tree, conditions, worst)]
    for index, report in enumerate(cables):
        faults += _cable_faults(tree, index, report)
    return Inspection(working=working, worst=worst, loads=loads, cables=cables, energy=energy, peak_current=peak,
                      faults=(*faults, *_battery_faults(tree, energy)))


def _load_voltage(tree: PowerTree, index: int, working: TreeSolution, worst: TreeSolution) -> LoadVoltage:
    load, highest = tree.loads[index], tree.supply.highest_voltage
    (minimum, maximum), lowest = load.accepts, worst.load_voltage[index]
    # NaN is too low.
    verdict: VoltageVerdict = "too high" if highest > maximum else "enough" if lowest >= minimum else "too low"
    return LoadVoltage(name=load.name, working=working.load_voltage[index], lowest=lowest, highest=highest,
                       minimum=minimum, maximum=maximum, verdict=verdict)


def _cable_report(tree: PowerTree, conditions: Conditions, index: int, worst: TreeSolution, current: u.Quantity
                  ) -> CableReport:
    cable = tree.cables[index]
    carries = ampacity(cable, temperature=conditions.temperature)
    path = tree.path_to(cable.feeds)
    loops = [loop_resistance(tree.cables[i], temperature=conditions.temperature).value for i in path]
    fault = _through(tree, tree.supply.empty_voltage, sum(loops), tree.supply.internal_resistance)
    short = _through(tree, tree.supply.highest_voltage, sum(loops[:-1]) + cable.connectors.value / 2,
                     tree.supply.short_resistance)
    fuses = [tree.cables[i].fuse for i in path]
    return CableReport(
        name=cable.called, cable=cable, current=current, carries=carries, drop=worst.cable_drop[index],
        drop_share=float(worst.cable_drop[index] / worst.supply_voltage), fault_current=fault, short_current=short,
        fuse=None if np.isnan(current.value) else fuse_rating(current, carries),
        protected=limit(tree) * LIMIT_FACTOR <= carries.value or any(protects(fuse, carries, fault) for fuse in fuses))


def limit(tree: PowerTree) -> float:
    """Return the rated current to which a mains supply keeps even in a short circuit, infinite for others [A]."""
    supply = tree.supply
    return np.inf if supply.kind == "battery" or supply.maximum_current is None else supply.maximum_current.value


def _through(tree: PowerTree, voltage: u.Quantity, loop: float, inside: u.Quantity) -> u.Quantity[u.A]:
    total = loop + inside.value
    return min(voltage.value / total if total > 0 else np.inf, limit(tree)) * u.A


def _cable_faults(tree: PowerTree, index: int, report: CableReport) -> list[Fault]:
    current, carries, fitted, cable = report.current, report.carries, report.cable.fuse, report.cable
    found: list[tuple[str, State, str]] = []
    area = area_text(cable.cross_section)
    if current > carries:
        found.append(("ampacity", UNSAFE, f"{current:.1f} flow, {area} may carry {carries:.3g} (bundle of "
                      f"{cable.bundled})."))
    if fitted is not None and current > FUSE_LOADING * fitted * (1 + 1e-9):
        found.append(("fuse", CHECK, f"Its {fitted:g} fuse will open or age at the peak of {current:.1f}."))
    if not report.protected:
        found.append(("unprotected", UNSAFE, _unprotected(report, area)))
    if fitted is not None and tree.supply.highest_voltage > cable.fuse_voltage:
        found.append(("short", UNSAFE, f"Its fuse breaks {cable.fuse_voltage:g} at most, the supply gives "
                      f"{tree.supply.highest_voltage:.3g}."))
    if fitted is not None and report.short_current > cable.fuse_breaking:
        found.append(("short", UNSAFE, f"A dead short behind its fuse gives up to {report.short_current:.0f}, the fuse "
                      f"breaks {cable.fuse_breaking:g}."))
    return [Fault(part=report.name, finding=text, kind=kind, index=index, grade=grade) for kind, grade, text in found]


def _unprotected(report: CableReport, area: str) -> str:
    fitted, carries = report.cable.fuse, report.carries
    if fitted is None:
        return f"Nothing protects {area} from a short circuit."
    if fitted > carries:
        return f"Its {fitted:g} fuse lets more flow than {area} may carry ({carries:.3g})."
    return (f"A dead short at its far end gives only {report.fault_current:.0f}, too little to open a {fitted:g} fuse "
            f"soon ({FUSE_FAULT_FACTOR:g} times its rating).")


def _voltage_faults(worst: TreeSolution, loads: tuple[LoadVoltage, ...]) -> list[Fault]:
    found = []
    if worst.collapsed:
        found.append(Fault(part="cables", kind="collapse", grade=CHECK, finding=(
            f"At {worst.supply_voltage:.1f} they cannot carry the peak power at any voltage: the loads would drop "
            "out.")))
    for index, load in enumerate(loads):
        if load.highest > load.maximum:
            found.append(Fault(part=load.name, kind="high", index=index, finding=(
                f"Up to {load.highest:.3g} reach it, more than its {load.maximum:g}.")))
        if not worst.collapsed and load.lowest < load.minimum:
            found.append(Fault(part=load.name, kind="low", index=index, grade=CHECK, finding=(
                f"{load.lowest:.2f} arrive at the peak, it needs {load.minimum:g}.")))
    return found


def _inrush(tree: PowerTree, worst: TreeSolution) -> u.Quantity[u.A]:
    """Return by how much the largest inrush of one load exceeds what that load draws at its peak."""
    more = [drawn * (INRUSH_FACTOR - 1) if load.inrush_current is None else load.inrush_current.value - drawn
            for load, drawn in zip(tree.loads, worst.load_current.value, strict=True)]
    return max(0.0, *more) * u.A


def _supply_faults(tree: PowerTree, peak: u.Quantity) -> list[Fault]:
    supply = tree.supply
    if np.isnan(peak.value) or (supply.maximum_current is not None and peak <= supply.maximum_current):
        return []
    if supply.maximum_current is None:
        return [Fault(part=supply.name, kind="supply", grade=CHECK, finding=(
            f"Whether it gives the {peak:.1f} of the peak, inrush included, is not known: its greatest current is not "
            "given."))]
    return [Fault(part=supply.name, kind="supply", finding=(
        f"It must give {peak:.1f} at the peak, inrush included, more than its {supply.maximum_current:g}."))]


def _load_faults(tree: PowerTree, conditions: Conditions, worst: TreeSolution) -> list[Fault]:
    found = []
    for index, load in enumerate(tree.loads):
        reached, wanted = cooler_reaches(load, conditions), load.set_temperature
        if wanted is not None and wanted.value < reached.value:
            ends, air, short = (celsius_text(one.value) for one in (reached, conditions.temperature, wanted))
            found.append(Fault(part=load.name, kind="cooler", index=index, grade=CHECK, finding=(
                f"Its cooler ends at {ends} in air of {air}, short of {short}.")))
        need, span = heat_needed(load, conditions).value, (load.greatest_power - load.power).value
        if load.behaviour == "resistive" and not load.converter and not worst.collapsed:
            span *= float(worst.load_voltage[index] / load.rated_voltage) ** 2
        if need > span * (1 + 1e-9):
            found.append(Fault(part=load.name, kind="heater", index=index, grade=CHECK, finding=(
                f"Full on, it gives {span:.1f} W of the {need:.1f} W that keep its glass clear in this air.")))
    return found


def _battery_faults(tree: PowerTree, energy: NightEnergy) -> list[Fault]:
    name, found = tree.supply.name, []
    if energy.cold:
        found.append(Fault(part=name, kind="cold", finding=energy.cold, grade=UNSAFE if energy.ruined else CHECK))
    if not energy.lasts and not energy.average.collapsed:
        words = energy.reason.removeprefix(f"{name} ")
        found.append(Fault(part=name, kind="energy", grade=CHECK, finding=words[0].upper() + words[1:]))
    return found
