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
from planner.pier.balance.move import Move
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
        "camera_turned": None if plan.turning is None else {
            "angle_deg": list(plan.turning.angle.value), "held": list(plan.turning.held),
            "declination_torque_N_m": list(plan.turning.declination_torque.value),
            "right_ascension_torque_N_m": list(plan.turning.right_ascension_torque.value)},
        "clearance": [{
            "pier_side": one.pier_side, "at_meridian_mm": one.at_meridian.value, "part": one.part,
            "declination_deg": one.declination.value,
            "past_meridian_deg": None if one.past_meridian is None else one.past_meridian.value,
            "touching": one.touching or None} for one in plan.clearance],
        "notes": list(plan.notes), "assumptions": list(plan.assumptions),
    }


def _move(move: Move) -> Document:
    """Return a move; of what is added or exchanged also its mass and place."""
    there = move.becomes
    return {"action": move.action, "name": move.name, "shift_mm": move.shift.value, "position_mm": move.position.value,
            "mass_kg": None if there is None else there.mass.value,
            **({} if not isinstance(there, TubePart) else {"on": move.on, **{
                f"{place}_mm": getattr(there, place).value for place in ("along", "across", "height")}})}


def _balance(result: Balance) -> Document:
    return {
        "tube_mass_kg": result.tube_mass.value, "moving_mass_kg": result.moving_mass.value,
        "pier_load_kg": result.pier_load.value, "centre_along_mm": result.centre_along.value,
        "centre_across_mm": result.centre_across.value, "centre_distance_mm": result.centre_distance.value,
        "declination_moment_kg_mm": result.declination_moment.value,
        "declination_torque_N_m": result.declination_torque.value,
        "right_ascension_moment_kg_mm": result.right_ascension_moment.value,
        "right_ascension_torque_N_m": result.right_ascension_torque.value, "friction_N_m": result.friction.value,
        "held": result.held,
        "payload_share": result.payload_share, "payload_within_limit": result.payload_within_limit,
    }


def power_document(tree: PowerTree, conditions: Conditions, wiring: Wiring) -> Document:
    """Return the verdict, objections and what mends them, voltages, cables, and the energy of the night."""
    return {
        "verdict": wiring.verdict, "objections": objections_document(wiring.objections),
        "suggestions": list(wiring.suggestions), "can_be_mended": wiring.mended is not None,
        "changes": [{
            "name": change.name, "present_mm2": change.present.value, "wanted_mm2": change.wanted.value,
            "fuse_A": None if change.fuse is None else change.fuse.value,
            "fuse_breaks_A": None if change.fuse is None else change.breaking.value,
        } for change in wiring.changes],
        "assumptions": list(wiring.assumptions), "supply": tree.supply.name,
        "temperature_deg_C": conditions.temperature.value, "humidity": conditions.humidity,
        "duration_h": conditions.duration.value, "working_current_A": wiring.working.supply_current.value,
        "peak_current_A": wiring.worst.supply_current.value, "peak_with_inrush_A": wiring.peak_current.value,
        "lowest_supply_voltage_V": wiring.worst.supply_voltage.value,
        "highest_supply_voltage_V": tree.supply.highest_voltage.value, "collapsed": wiring.worst.collapsed,
        "loads": [_load(tree, conditions, wiring, index) for index in range(len(tree.loads))],
        "cables": [{
            "name": report.name, "length_m": report.cable.length.value,
            "cross_section_mm2": report.cable.cross_section.value, "current_A": report.current.value,
            "carries_A": report.carries.value, "drop_V": report.drop.value, "drop_share": report.drop_share,
            "fitted_A": None if report.cable.fuse is None else report.cable.fuse.value,
            "fuse_A": None if taken.fuse is None else taken.fuse.value, "protected": report.protected,
            "fault_current_A": report.fault_current.value, "short_current_A": report.short_current.value,
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
        "heater_duty": heater_duty(load, conditions), "working_voltage_V": judged.working.value,
        "lowest_voltage_V": judged.lowest.value, "highest_voltage_V": judged.highest.value,
        "minimum_voltage_V": judged.minimum.value, "maximum_voltage_V": judged.maximum.value, "verdict": judged.verdict,
        "energy_Wh": wiring.energy.load_energy[index].value,
    }


def _energy(energy: NightEnergy) -> Document:
    return {
        "energy_Wh": energy.energy.value, "cable_energy_Wh": energy.cable_energy.value,
        "charge_Ah": energy.charge.value,
        "usable_charge_Ah": None if energy.usable_charge is None else energy.usable_charge.value,
        "capacity_needed_Ah": None if energy.capacity_needed is None else energy.capacity_needed.value,
        "battery_duration_h": None if energy.duration is None else energy.duration.value, "lasts": energy.lasts,
        "capacity_shares": {cause.replace(" ", "_"): share for cause, share in energy.terms}, "reason": energy.reason,
    }


def dew_document(need: HeaterNeed) -> Document:
    """Return dew point and margin."""
    return {"dew_point_deg_C": need.dew_point.value, "dew_margin_K": need.dew_margin.value}


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
        "temperature_deg_C": age.temperature.value, "anchor": age.anchor, "bolt_share": age.bolt_share,
        "bolt_age_days": None if age.bolt_age is None else age.bolt_age.value, "age_days": age.age.value,
        "strength_share": age.strength_share, "mean_strength_MPa": age.mean_strength.value,
        "modulus_GPa": age.modulus.value, "answer": age.answer,
    }


def _known(share: float) -> float | None:
    """Return a share, None where what decides is not given or nothing helps."""
    return share if math.isfinite(share) else None


def _polar(shift: PolarShift) -> Document:
    return {"altitude_error_arcsec": shift.altitude_error.value, "azimuth_error_arcsec": shift.azimuth_error.value,
            "separation_arcsec": shift.separation.value, "drift_rate_arcsec_per_h": shift.drift_rate.value}
