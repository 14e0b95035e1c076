"""What `planner pier --json` prints: the results as plain numbers under keys that end in their unit."""

import math
from typing import Any

from astropy import units as u

from planner.pier import (
    BalancePlan,
    Column,
    ColumnAnswer,
    ConcreteAge,
    Conditions,
    NightEnergy,
    Objection,
    PowerTree,
    TubePart,
    Wiring,
)
from planner.pier.balance.model import Move
from planner.pier.balance.torque import Balance
from planner.pier.column.polar import PolarShift
from planner.pier.dew import HeaterNeed
from planner.pier.wiring.power import cooler_duty, heater_duty, state_power

Document = dict[str, Any]


def balance_document(plan: BalancePlan) -> Document:
    """Return the verdict, objections, moves and suggestions, and the balance before and after the moves."""
    return {
        "verdict": plan.verdict, "objections": objections_document(plan.objections),
        "can_be_balanced": not plan.cannot, "before": _balance(plan.before), "after": _balance(plan.after),
        "moves": [_move(move) for move in plan.moves], "suggestions": list(plan.suggestions),
        "camera_turned": None if plan.turning is None else {"held": list(plan.turning.held), **figures(
            plan.turning, deg="angle", N_m="declination_torque right_ascension_torque")},
        "clearance": [{"pier_side": one.pier_side, "part": one.part, "touching": one.touching or None, **figures(
            one, mm="at_meridian", deg="declination past_meridian")} for one in plan.clearance],
        "notes": list(plan.notes), "assumptions": list(plan.assumptions),
    }


def _move(move: Move) -> Document:
    """Return a move; of what is added or exchanged also its mass and place."""
    there = move.becomes
    place = {"on": move.on, **figures(there, mm="along across height")} if isinstance(there, TubePart) else {}
    return {"action": move.action, "name": move.name, **figures(move, mm="shift position"),
            "mass_kg": None if there is None else there.mass.value, **place}


def _balance(result: Balance) -> Document:
    return figures(
        result, kg="tube_mass moving_mass pier_load", mm="centre_along centre_across centre_distance",
        kg_mm="declination_moment right_ascension_moment", N_m="declination_torque right_ascension_torque friction",
    ) | {name: getattr(result, name) for name in ("held", "payload_share", "payload_within_limit")}


def figures(result: object, **names: str) -> Document:
    """Return figures of a result under keys that end in their unit: by unit, their names with blanks between."""
    found = {f"{name}_{unit}": getattr(result, name) for unit, those in names.items() for name in those.split()}
    return {key: None if value is None else value.value for key, value in found.items()}


def power_document(tree: PowerTree, conditions: Conditions, wiring: Wiring) -> Document:
    """Return the verdict, objections and what mends them, voltages, cables, and the energy of the night."""
    return {
        "verdict": wiring.verdict, "objections": objections_document(wiring.objections),
        "suggestions": list(wiring.suggestions), "can_be_mended": wiring.mended is not None,
        "changes": [{
            "name": change.name, **figures(change, mm2="present wanted", A="fuse"),
            "fuse_breaks_A": None if change.fuse is None else change.breaking.value,
        } for change in wiring.changes],
        "assumptions": list(wiring.assumptions), "supply": tree.supply.name,
        **figures(conditions, deg_C="temperature", h="duration"), "humidity": conditions.humidity,
        "working_current_A": wiring.working.supply_current.value,
        "peak_current_A": wiring.worst.supply_current.value, "peak_with_inrush_A": wiring.peak_current.value,
        "lowest_supply_voltage_V": wiring.worst.supply_voltage.value,
        "highest_supply_voltage_V": tree.supply.highest_voltage.value, "collapsed": wiring.worst.collapsed,
        "loads": [_load(tree, conditions, wiring, index) for index in range(len(tree.loads))],
        "cables": [{
            "name": report.name, "drop_share": report.drop_share, "protected": report.protected,
            "fitted_A": figures(report.cable, A="fuse")["fuse_A"], **figures(taken, A="fuse"),
            **figures(report.cable, m="length", mm2="cross_section"),
            **figures(report, A="current carries fault_current short_current", V="drop"),
        } for report, taken in zip(wiring.cables, (wiring.mended or tree).cables, strict=True)],
        "weakest_link": None if wiring.weakest is None else tree.cables[wiring.weakest].called,
        "energy": _energy(wiring.energy),
    }


def objections_document(objections: tuple[Objection, ...]) -> list[Document]:
    """Return what speaks against a part of the pier."""
    return [{"part": one.part, "finding": one.finding, "remedy": one.remedy} for one in objections]


def _load(tree: PowerTree, conditions: Conditions, wiring: Wiring, index: int) -> Document:
    load, judged = tree.loads[index], wiring.loads[index]
    return {
        "name": load.name, "working_power_W": state_power(load, conditions, "working").value,
        "peak_power_W": load.greatest_power.value, "cooler_duty": cooler_duty(load, conditions),
        "heater_duty": heater_duty(load, conditions), "verdict": judged.verdict,
        **figures(judged, voltage_V="working lowest highest minimum maximum"),
        "energy_Wh": wiring.energy.load_energy[index].value,
    }


def _energy(energy: NightEnergy) -> Document:
    return {
        **figures(energy, Wh="energy cable_energy", Ah="charge usable_charge capacity_needed"),
        "battery_duration_h": None if energy.duration is None else energy.duration.value, "lasts": energy.lasts,
        "capacity_shares": {cause.replace(" ", "_"): share for cause, share in energy.terms}, "reason": energy.reason,
    }


def dew_document(need: HeaterNeed) -> Document:
    """Return dew point and margin."""
    return figures(need, deg_C="dew_point", K="dew_margin")


def column_document(column: Column, answer: ColumnAnswer) -> Document:
    """Return the verdict, what speaks against the pier, frequencies, what each load does, and the concrete by age."""
    response = answer.response
    footing = response.footing
    return {
        "verdict": answer.verdict,
        "objections": objections_document(answer.objections),
        "suggestions": list(answer.standing.suggestions),
        "checks": [{"part": check.part, "name": check.name, "load_share": _known(check.share)}
                   for check in answer.standing.checks],
        "frequency_Hz": response.motion.own_frequency.value,
        "frequencies_Hz": response.vibration.frequency.to_value(u.Hz),
        "frequency_with_mount_Hz": response.motion.whole_frequency.value,
        "mount_frequency_Hz": response.motion.mount_frequency.value, "mount_frequency_assumed": response.mount_assumed,
        "sway_arcsec": _known(response.motion.sway.value),
        "settling_after_touch_s": _known(response.motion.after_touch.value),
        "settling_after_slew_s": _known(response.motion.after_slew.value),
        "frequency_on_rigid_foot_Hz": response.rigid_foot.frequency[0].value, "softer_way": response.softer_way,
        "top_stiffness_N_per_um": response.top_stiffness.value, "column_share_of_tilt": response.column_share,
        "column_mass_kg": column.mass.value, "shear_share": column.shear_share,
        "vortex_speed_m_per_s": None if response.vortex_speed is None else response.vortex_speed.value,
        "foot": [{"name": name, "east_west_N_m_per_rad": east.value, "north_south_N_m_per_rad": north.value}
                 for name, east, north in footing.parts],
        "floor_frequency_Hz": None if footing.floor_frequency is None else footing.floor_frequency.value,
        "cases": [{
            "name": case.name, "force_N": case.force.value, "deflection_um": case.bending.deflection.value,
            "angle_arcsec": case.bending.angle.value, "if_tilted_north": _polar(case.tilted_north),
            "if_tilted_east": _polar(case.tilted_east),
        } for case in response.cases],
        "reasons": list(answer.lines),
        "concrete": None if answer.age is None else _concrete(answer.age),
    }


def _concrete(age: ConcreteAge) -> Document:
    return {
        **figures(age, deg_C="temperature", days="bolt_age age", MPa="mean_strength", GPa="modulus"),
        "anchor": age.anchor, "bolt_share": age.bolt_share, "strength_share": age.strength_share, "answer": age.answer,
    }


def _known(share: float) -> float | None:
    return share if math.isfinite(share) else None


def _polar(shift: PolarShift) -> Document:
    return figures(shift, arcsec="altitude_error azimuth_error separation", arcsec_per_h="drift_rate")
