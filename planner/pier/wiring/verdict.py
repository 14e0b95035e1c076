"""What is said about the 12 V tree: one verdict, everything that speaks against it, and what mends it."""

from dataclasses import dataclass, replace
from typing import Annotated, ClassVar

from astropy import units as u

from planner.fields import Key, Spread, told
from planner.pier.objection import GOOD, UNSAFE, Objection, State, worst
from planner.pier.wiring.cable import ARROW, Cable, ampacity, area_text
from planner.pier.wiring.circuit import TreeSolution
from planner.pier.wiring.energy import NightEnergy, celsius_text
from planner.pier.wiring.inspection import LIMIT_FACTOR, CableReport, Fault, Inspection, LoadVoltage, inspect, limit
from planner.pier.wiring.mending import by_blame, mend, only
from planner.pier.wiring.power import (
    INRUSH_FACTOR,
    Conditions,
    Load,
    PowerTree,
    Supply,
    cooler_duty,
    heater_duty,
    state_power,
)


@dataclass(frozen=True, kw_only=True)
class CableChange:
    """What a cable should be: one answer for each, its cross-section and its fuse."""

    name: Annotated[str, "of the cable"]
    index: int
    present: Annotated[u.Quantity[u.mm**2], "its cross-section"]
    wanted: Annotated[u.Quantity[u.mm**2], "the cross-section that it should have"]
    fuse: Annotated[u.Quantity[u.A] | None, "to fit; null if what is there will do"]
    breaking: u.Quantity[u.A]  # that the fuse must break
    breaks = told(u.A, "that the fuse must break", lambda one: None if one.fuse is None else one.breaking,
                  key="fuse_breaks_A")


@dataclass(frozen=True, kw_only=True)
class LoadReport:
    """What one load takes and gets."""

    voltage: Annotated[LoadVoltage, Spread()]
    working_power: Annotated[u.Quantity[u.W], "while all works"]
    peak_power: Annotated[u.Quantity[u.W], "the most that it draws"]
    cooler_duty: Annotated[float | None, "share of its cooler's power in this air; null without a cooler"]
    heater_duty: Annotated[float | None, "share of its heater's power in this air; null without a heater"]
    energy: Annotated[u.Quantity[u.W * u.h], "of the night"]


@dataclass(frozen=True, kw_only=True)
class Wiring:
    """The tree, judged."""

    good: ClassVar[str] = "every load has its voltage, every cable its fuse, and the supply gives enough."
    verdict: Annotated[State, "on the tree"]
    objections: Annotated[tuple[Objection, ...], "what speaks against it, unsafe first"]
    suggestions: Annotated[tuple[str, ...], "made together, they leave no objection"]
    mended: PowerTree | None  # with all of them made; None if no cross-section of the series does it
    changes: Annotated[tuple[CableChange, ...], "of cables and fuses"]
    assumptions: Annotated[tuple[str, ...], "that were made"]
    working: TreeSolution
    worst: TreeSolution
    peak_current: Annotated[u.Quantity[u.A], "that the supply must give, inrush included", Key("peak_with_inrush_A")]
    loads: tuple[LoadVoltage, ...]
    cables: Annotated[tuple[CableReport, ...], "in the order of the file"]
    energy: Annotated[NightEnergy, "of the night"]
    reports: Annotated[tuple[LoadReport, ...], "in the order of the file", Key("loads")]
    tree: PowerTree
    conditions: Annotated[Conditions, Spread()]
    weakest: int | None  # index of the cable that costs the neediest load most; None without cables
    mendable = told(bool, "whether some cross-section of the series does it", lambda wiring: wiring.mended is not None,
                    key="can_be_mended")
    supply = told(str, "its name", lambda wiring: wiring.tree.supply.name)
    working_current = told(u.A, "while all works", lambda wiring: wiring.working.supply_current)
    most_current = told(u.A, "everything at its peak, supply at its lowest", lambda wiring: wiring.worst.supply_current,
                        key="peak_current_A")
    lowest_supply_voltage = told(u.V, "without load", lambda wiring: wiring.worst.supply_voltage)
    highest_supply_voltage = told(u.V, "or its charger's", lambda wiring: wiring.tree.supply.highest_voltage)
    collapsed = told(bool, "whether the cables cannot bring that power", lambda wiring: wiring.worst.collapsed)
    weakest_link = told(str | None, "cable that costs the neediest load most", lambda wiring:
                        None if wiring.weakest is None else wiring.tree.cables[wiring.weakest].called)

    @property
    def lines(self) -> tuple[str, ...]:
        """All of it in words."""
        if self.verdict == GOOD:
            return (f"Good: {self.good}",)
        return (*(f"{one.part}: {one.finding}" for one in self.objections), *self.suggestions)


def judge_wiring(tree: PowerTree, conditions: Conditions) -> Wiring:
    """Return the verdict on voltages, cables, fuses, supply and energy, and what mends it.

    ``unsafe`` if anything can burn, burst or be destroyed; ``check`` if something will not work, or is not
    known; ``good`` if nothing at all speaks against it. The worst case is the supply at its lowest voltage with every
    load at its peak at once.
    """
    found = inspect(tree, conditions)
    mended = mend(tree, conditions) if found.faults else tree
    lines = {} if mended is None else _change_lines(tree, mended, conditions)
    faults = sorted(found.faults, key=lambda fault: fault.grade != UNSAFE)
    return Wiring(
        verdict=worst(fault.grade for fault in faults),
        objections=tuple(Objection(part=fault.part, finding=fault.finding, remedy=_remedy(
            tree, conditions, fault, mended, lines)) for fault in faults),
        suggestions=tuple(lines.values()) if mended is not None else (_cannot(tree),), mended=mended,
        changes=() if mended is None else _cable_changes(tree, mended), assumptions=_assumptions(tree, conditions),
        working=found.working, worst=found.worst, peak_current=found.peak_current, loads=found.loads,
        cables=tuple(replace(report, to_fit=cable.fuse) for report, cable in zip(
            found.cables, (mended or tree).cables, strict=True)),
        reports=tuple(LoadReport(
            voltage=voltage, working_power=state_power(load, conditions, "working"), peak_power=load.greatest_power,
            cooler_duty=cooler_duty(load, conditions), heater_duty=heater_duty(load, conditions), energy=energy,
        ) for load, voltage, energy in zip(tree.loads, found.loads, found.energy.load_energy, strict=True)),
        energy=found.energy, tree=tree, conditions=conditions,
        weakest=by_blame(tree, found.worst)[0] if tree.cables else None)


def _cannot(tree: PowerTree) -> str:
    return (f"It cannot be done at {tree.supply.empty_voltage:.3g}: neither the thickest cables of the series nor "
            "converters at the loads are enough. Shorten the cables, split the loads over more supplies, or take a "
            "higher voltage, up to 32 V, to the converters.")


def _remedy(tree: PowerTree, conditions: Conditions, fault: Fault, mended: PowerTree | None, lines: dict[str, str]
            ) -> str:
    """Return the fewest suggestions that cure a fault by themselves: its part's, the supply's, its way's, or all."""
    if mended is None:
        return _cannot(tree)
    supply, far = {tree.supply.name, "charger"}, fault.part.rpartition(ARROW)[2]
    way = set() if fault.kind in ("collapse", "supply", "energy", "cold") else {
        far, *(tree.cables[i].called for i in tree.path_to(far))}
    for wanted in ({fault.part}, {"charger"}, supply, {fault.part, *supply}, way, way | supply):
        keys = wanted & lines.keys()
        if keys and _cures(fault, inspect(only(tree, mended, keys), conditions)):
            return " ".join(text for key, text in lines.items() if key in keys)
    return " ".join(lines.values())


def _cures(fault: Fault, found: Inspection) -> bool:
    """Whether a fault is no longer there; a tree that collapses tells nothing."""
    return not found.worst.collapsed and all(
        (one.kind, one.part) != (fault.kind, fault.part) for one in found.faults)


def _cable_changes(before: PowerTree, after: PowerTree) -> tuple[CableChange, ...]:
    pairs = enumerate(zip(before.cables, after.cables, strict=True))
    return tuple(
        CableChange(name=old.called, index=index, present=old.cross_section, wanted=new.cross_section,
                    fuse=None if _fuse(old) == _fuse(new) else new.fuse, breaking=new.fuse_breaking)
        for index, (old, new) in pairs if old != new)


def _fuse(cable: Cable) -> tuple[u.Quantity | None, u.Quantity, u.Quantity]:
    return cable.fuse, cable.fuse_breaking, cable.fuse_voltage


def _change_lines(before: PowerTree, after: PowerTree, conditions: Conditions) -> dict[str, str]:
    """Return one sentence for each part that changes."""
    lines = {old.name: _load_line(old, new) for old, new in zip(before.loads, after.loads, strict=True) if old != new}
    old, new = before.supply, after.supply
    if old.charged_while_on and not new.charged_while_on:
        lines["charger"] = (f"Take the devices off {old.name} while it charges (up to {old.highest_voltage:.3g}), "
                            'and answer "charged while on" with no.')
    words = _supply_words(old, new)
    if words:
        lines[old.name] = words
    for change in _cable_changes(before, after):
        text = f"{change.name}: "
        text += f"{area_text(change.wanted)} instead of {area_text(change.present)}" \
            if change.wanted != change.present else f"keep {area_text(change.present)}"
        if change.fuse is not None:
            text += f", a {change.fuse:g} fuse that breaks {change.breaking:g} at its source end"
        elif change.wanted != change.present:
            text += _why_so_thick(after, ampacity(after.cables[change.index], temperature=conditions.temperature))
        lines[change.name] = f"{text}."
    return lines


def _why_so_thick(tree: PowerTree, carries: u.Quantity) -> str:
    """Say that a cable is made to bear whatever its supply feeds into a short circuit, where it is."""
    most = LIMIT_FACTOR * limit(tree)
    return f", to bear the {most:.0f} A that {tree.supply.name} may feed into a short circuit" if (
        most <= carries.value) else ""


def _load_line(old: Load, new: Load) -> str:
    words = []
    if new.converter and not old.converter:
        words.append(f"put a regulated converter before it (9 to 36 V in, {old.rated_voltage:g} out)")
    if new.set_temperature is not None and new.set_temperature != old.set_temperature:
        words.append(f"set its cooler to {celsius_text(new.set_temperature.value)}")
    if new.peak_power is not None and new.peak_power != old.peak_power:
        words.append(f"take a heater of {new.peak_power:g} at {new.rated_voltage:g}")
    return f"{old.name}: {', '.join(words)}."


def _supply_words(old: Supply, new: Supply) -> str:
    words = []
    if new.battery_temperature != old.battery_temperature and new.battery_temperature is not None:
        words.append(f"keep it in an insulated box at {celsius_text(new.battery_temperature.value)} or warmer")
    if new.maximum_current != old.maximum_current and new.maximum_current is not None:
        words.append(f"see that it gives {new.maximum_current:g}, or take one that does")
    if new.capacity != old.capacity and new.capacity is not None:
        words.append(f"take a capacity of {new.capacity:g}, or draw less")
    return f"{old.name}: {'; '.join(words)}." if words else ""


def _assumptions(tree: PowerTree, conditions: Conditions) -> tuple[str, ...]:
    """Say what the verdict takes for granted because the file does not give it."""
    bundles = sorted({cable.bundled for cable in tree.cables})
    words = [f"Flexible cords in bundles of {' or '.join(map(str, bundles))}, in air of at most "
             f"{max(30.0, conditions.temperature.value):.0f} °C.",
             "Everything draws its peak at once, the supply at its lowest voltage."]
    if any(load.inrush_current is None for load in tree.loads):
        words.append(f"A device whose inrush is not given draws {INRUSH_FACTOR:g} times its peak for a moment.")
    supply = tree.supply
    if supply.kind == "battery":
        if supply.charged_while_on:
            words.append(f"A charger may run while the devices are on: {supply.highest_voltage:.3g}.")
        if supply.internal_resistance == 0 * u.ohm:
            inside = supply.short_resistance.to_value(u.mohm)
            words.append(f"A short circuit of {supply.name} is reckoned with {inside:.0f} milliohm inside: give "
                         "its internal resistance if you know it.")
        if supply.lowest_voltage is None:
            words.append(f"Used down to {100 * (1 - supply.depth):.0f} % it has {supply.empty_voltage:.1f} "
                         "without load.")
    return tuple(words)
