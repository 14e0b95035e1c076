"""A plan as plain numbers, texts and lists: what `--json` prints and a page lets one download."""

from typing import Any

from astropy import units as u
from astropy.time import Time

from planner.session.night.model import Block, NightPlan, Outlook, PlannedFlip
from planner.session.night.report.words import cautions, worth_text
from planner.visibility import local_time
from planner.visibility.clock import utc_text


def plan_document(plan: NightPlan) -> dict[str, Any]:
    """Return the plan with keys that end in their unit; times are ISO 8601 UTC, `_local` ones on the site's clock."""
    dark = plan.dark
    return {
        "night": plan.date.isoformat(), "site": plan.site.name, "rig": plan.rig.name,
        "time_zone": plan.site.time_zone,
        "dark": None if dark is None else {"start_utc": _utc(dark[0]), "end_utc": _utc(dark[1])},
        "dark_depression_deg": plan.night.depression.to_value(u.deg),
        "dark_for_narrow_bands": _narrow(plan),
        "sunset_utc": _utc(plan.night.sunset), "sunrise_utc": _utc(plan.night.sunrise),
        "moon": _moon(plan),
        "lowest_altitude_deg": plan.lowest_altitude.to_value(u.deg),
        "targets": [_target(outlook) for outlook in plan.outlooks],
        "blocks": [_block(block, plan) for block in plan.blocks],
        "flips": [_flip(flip) for flip in plan.flips],
        "events": [{"kind": event.kind, "start_utc": _utc(event.start), "end_utc": _utc(event.end),
                    "text": event.text} for event in plan.events],
        "value": plan.value, "bound": plan.bound, "gap": plan.gap,
        "value_unit": "priority x weight x (sqrt((done + equivalent hours) / wanted) - sqrt(done / wanted)), slots of "
                      f"{plan.slot.to_value(u.min):g} min",
        "worth_setting_up": plan.worth_setting_up, "worth_setting_up_sentence": worth_text(plan),
        "share_of_dark_zenith": {name.replace(" ", "_"): share for name, share in plan.dark_shares.items()},
        "slot_min": plan.slot.to_value(u.min),
        "refocus_min": None if plan.times is None else plan.times.refocus.to_value(u.min),
        "reason": plan.reason, "notes": list(plan.notes), "cautions": list(cautions(plan)),
    }


def _narrow(plan: NightPlan) -> dict[str, Any] | None:
    """Return the dark time of the filters that accept more twilight; null where all filters ask for the same."""
    if plan.twilight_dark is None:
        return None
    depth, (start, end) = plan.twilight_dark
    return {"depression_deg": depth, "start_utc": _utc(start), "end_utc": _utc(end)}


def _moon(plan: NightPlan) -> dict[str, Any]:
    """Return the Moon from the noon before to the noon after; null where it does not rise or set."""
    moon = plan.moon
    return {
        "illumination": moon.illumination, "rise_utc": _utc(moon.rises[0]) if len(moon.rises) else None,
        "set_utc": _utc(moon.sets[0]) if len(moon.sets) else None,
        "up": [{"start_utc": _utc(start), "end_utc": _utc(end)} for start, end in moon.up], "reason": moon.reason,
    }


def _target(outlook: Outlook) -> dict[str, Any]:
    target, window, meridian = outlook.request.target, outlook.reach.window, outlook.reach.meridian
    return {
        "name": target.name, "ra_deg": target.ra.to_value(u.deg), "dec_deg": target.dec.to_value(u.deg),
        "kind": target.kind, "priority": outlook.request.priority,
        "needs": [{"filter": need.band.name, "hours": None if need.hours is None else need.hours.to_value(u.h),
                   "signal_to_noise": need.signal_to_noise, "done_h": need.done.to_value(u.h), "weight": weight}
                  for need, weight in zip(outlook.request.needs, outlook.weights, strict=True)],
        "windows": [{"start_utc": _utc(start), "end_utc": _utc(end)} for start, end in window.windows],
        "transit_utc": _utc(window.transit), "max_altitude_deg": window.maximum_altitude.to_value(u.deg),
        "flip_needed": meridian.needed, "meridian": meridian.reason,
        "planned_equivalent_h": outlook.planned.to_value(u.h), "planned_h": outlook.clock_time.to_value(u.h),
        "too_wide_below_deg": None if outlook.too_wide_below is None else outlook.too_wide_below.to_value(u.deg),
        "reason": outlook.reason,
    }


def _block(block: Block, plan: NightPlan) -> dict[str, Any]:
    return {
        "target": block.target.name, "filter": block.band.name,
        "start_utc": _utc(block.start), "end_utc": _utc(block.end),
        "start_local": local_time(block.start, plan.site).isoformat(timespec="seconds"),
        "end_local": local_time(block.end, plan.site).isoformat(timespec="seconds"),
        "pier_side": block.pier_side or None, "pier_side_above_pole": block.above_pole or None,
        "sub_exposure_s": block.sub_exposure.to_value(u.s),
        "sub_count": block.sub_count, "guided": block.guided,
        "equivalent_hours": block.equivalent_hours.to_value(u.h), "altitude_deg": block.altitude.to_value(u.deg),
        "moon_up": block.moon_up, "moon_separation_deg": block.moon_separation.to_value(u.deg),
        "refocus_utc": [_utc(at) for at in block.refocus],
    }


def _flip(flip: PlannedFlip) -> dict[str, Any]:
    return {"target": flip.target.name, "earliest_utc": _utc(flip.earliest), "latest_utc": _utc(flip.latest),
            "planned_utc": _utc(flip.planned), "lost_min": flip.lost.to_value(u.min)}


def _utc(time: Time | None) -> str | None:
    return None if time is None else utc_text(time)
