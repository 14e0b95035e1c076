"""An advice as plain numbers, texts and lists: what `--json` prints and a page lets one download."""

from typing import Any

import numpy as np
from astropy import units as u

from planner.exposure.depth import Depth
from planner.exposure.sub_exposure import SubExposure
from planner.session.advice.answer import Advice
from planner.session.advice.colours import colours_at_once
from planner.session.advice.pier_cost import pier_cost
from planner.session.advice.rules_of_thumb import rules_of_thumb
from planner.visibility import lit_share
from planner.visibility.clock import utc_text


def advice_document(advice: Advice) -> dict[str, Any]:
    """Return the advice with keys that end in their unit; times are ISO 8601 UTC."""
    scene, need, total = advice.scene, advice.need, advice.total
    document: dict[str, Any] = {
        "target": _target(advice), "rig": advice.rig.name, "site": advice.site.name, "filter": advice.band.name,
        "night": advice.night.date.isoformat(), "tonight": advice.tonight,
        "window": _window(advice),
        "moon_illumination": None if advice.moon is None else float(lit_share(advice.night.middle)),
        "image_scale_arcsec_per_pixel": advice.image_scale.to_value(u.arcsec / u.pix),
        "field_deg": [advice.field.width.to_value(u.deg), advice.field.height.to_value(u.deg)],
        "star_fwhm_arcsec": None if advice.star_fwhm is None else advice.star_fwhm.to_value(u.arcsec),
        "sky_mag_per_arcsec2": None if advice.sky_brightness is None else float(advice.sky_brightness.value),
        "sky_electrons_per_s_per_pixel": None if scene is None else float(scene.sky_rate.value),
        "unguided": None, "guided": None, "verdict": None, "reasons": [advice.window.reason] if need is None else [],
        "changes": [], "error_budget": [], "guide_star": None, "guide_loop": None, "total": None,
        "depth": _depth(advice.depth), "colours": _colours(advice),
        "total_exposure_h": None, "with_guider": None, "without_guider": None,
        "odds": None, "best_on_average": None, "first_subs": None, "depth_range_mag": None, "inputs": [],
        "measure_next": [], "improve": [], "rules_of_thumb": [], "pier": _pier(advice),
        "notes": list(advice.notes),
    }
    if need is not None:
        document |= {
            "verdict": need.verdict, "reasons": list(need.reasons),
            "changes": [change.sentence for change in need.changes],
            "unguided": _sub(need.unguided), "guided": None if need.guided is None else _sub(need.guided),
            "error_budget": [{"term": term.term, "axis": term.axis, "rms_arcsec": term.rms.to_value(u.arcsec)}
                             for term in need.better_budget],
            "error_budget_s": float(need.better.recommended.to_value(u.s)),
            "with_guider": _ratio(need.with_guider), "without_guider": _ratio(need.without_guider),
            "guide_star": _guide_star(advice), "guide_loop": _loop(advice),
        }
        document |= _certainty(advice)
        document["rules_of_thumb"] = [
            {"rule": rule.rule, "binning": rule.binning, "loses_fraction": rule.loses, "sentence": rule.sentence,
             "sub_exposure_s": None if rule.sub_exposure is None else float(rule.sub_exposure.value)}
            for rule in rules_of_thumb(advice)]
    if total is not None:
        document["total"] = {
            "signal_to_noise": total.signal_to_noise, "area_arcsec2": total.area.to_value(u.arcsec**2),
            "sub_exposure_s": total.sub_exposure.to_value(u.s), "frames": total.frames,
            "clock_time_h": total.clock_time.to_value(u.h), "integration_time_h": total.integration_time.to_value(u.h)}
        document["total_exposure_h"] = total.integration_time.to_value(u.h)
    return document


def _pier(advice: Advice) -> dict[str, Any] | None:
    """Return what the pier adds and costs; None for a rig that names none."""
    rig = advice.rig
    if rig.pier is None and rig.sway == 0:
        return None
    return {"file": rig.sway_from, "sway_arcsec": float(rig.sway.value), "sway_memory_s": float(rig.sway_memory.value),
            "settling_after_slew_s": float(rig.sway_settling_time.value), "cost_fraction": pier_cost(advice)}


def _certainty(advice: Advice) -> dict[str, Any]:
    sure = advice.certainty
    if sure is None:
        return {}
    look = sure.first_subs
    return {
        "odds": dict(sure.odds),
        "best_on_average": {"method": sure.method, "sub_exposure_s": float(sure.sub_exposure.to_value(u.s)),
                            "best_in_eight_of_ten_s": [float(length.value) for length in sure.best_lengths],
                            "within_one_percent_fraction": sure.close_share, "at_risk_fraction": sure.at_risk,
                            "gain_over_verdict_fraction": sure.gain},
        "first_subs": None if look is None else {
            "count": look.count, "sub_exposure_s": float(look.first.value), "gain_fraction": look.gain,
            "steps": [{"least_round": least, "most_round": most, "sub_exposure_s": length}
                      for least, most, length in look.steps], "sentence": look.sentence},
        "depth_range_mag": [float(depth.value) if np.isfinite(depth.value) else None for depth in sure.deeper],
        "inputs": [{"name": item.name, "spread": item.spread, "assumed": item.assumed,
                    "unit": "arcmin" if item.figure == "polar axis" else "natural logarithm"} for item in sure.inputs],
        "measure_next": [{"measurement": worth.measurement, "sentence": worth.sentence, "minutes": worth.minutes,
                          "gain_hours_per_night": float(worth.hours_per_night.to_value(u.h))}
                         for worth in sure.measure_next],
        "improve": [{"change": change.change, "sentence": change.sentence,
                     "gain_hours_per_night": float(change.hours_per_night.to_value(u.h))}
                    for change in sure.improve]}


def _colours(advice: Advice) -> list[dict[str, Any]]:
    return [{"colour": one.band.colour, "centre_nm": float(one.band.centre.value),
             "width_nm": float(one.band.width.value),
             "pixel_fraction": one.band.share, "spacing_arcsec": float(one.spacing.value),
             "sky_electrons_per_s_per_pixel": float(one.sky_rate.value), "depth": _depth(one.depth)}
            for one in colours_at_once(advice)]


def _depth(depth: Depth | None) -> dict[str, Any] | None:
    if depth is None:
        return None
    reached = ({"rayleigh": float(depth.line.to_value(u.R))} if depth.line is not None else
               {"mag_per_arcsec2": None if depth.brightness is None else float(depth.brightness.value)})
    return {"band": depth.band, **reached, "signal_to_noise": depth.signal_to_noise,
            "area_arcsec2": depth.area.to_value(u.arcsec**2), "hours": float(depth.hours.to_value(u.h))}


def _ratio(ratio: float | None) -> dict[str, float] | None:
    return None if ratio is None else {"speed_ratio": ratio}


def _target(advice: Advice) -> dict[str, Any]:
    target = advice.target
    axes = (target.size_major, target.size_minor)
    return {
        "name": target.name, "ra_deg": target.ra.to_value(u.deg), "dec_deg": target.dec.to_value(u.deg),
        "size_arcmin": [float(axis.to_value(u.arcmin)) for axis in axes if axis is not None],
        "size_from": target.size_from, "size_elsewhere": target.size_elsewhere,
        "mean_halpha_rayleigh": None if target.line_brightness is None else float(target.line_brightness.to_value(u.R)),
        "mean_v_mag_per_arcsec2": None if target.surface_brightness is None else float(target.surface_brightness.value),
        "brightness_from": target.brightness_from}


def _window(advice: Advice) -> dict[str, Any]:
    window = advice.window
    return {
        "windows": [{"start_utc": utc_text(start), "end_utc": utc_text(end)} for start, end in window.windows],
        "transit_utc": utc_text(window.transit), "max_altitude_deg": window.maximum_altitude.to_value(u.deg),
        "hours": float(window.hours.to_value(u.h)), "reason": window.reason,
        "lowest_altitude_deg": advice.lowest_altitude.to_value(u.deg),
    }


def _sub(sub: SubExposure) -> dict[str, Any]:
    return {
        "sub_exposure_s": sub.recommended.to_value(u.s), "shortest_s": sub.shortest.to_value(u.s),
        "longest_s": sub.longest.to_value(u.s), "limited_below_by": sub.limited_below_by,
        "limited_above_by": sub.limited_above_by, "kept_fraction": sub.kept, "speed": sub.speed,
        "frames": sub.frames, "data_gigabyte": sub.data.to_value(u.Gbyte),
        "saturation_mag": float(sub.saturation_magnitude.value), "saturated_stars": sub.saturated_stars,
        "ladder": [{"sub_exposure_s": float(length), "kept_fraction": float(kept), "speed": float(speed)}
                   for length, kept, speed in zip(sub.ladder.exposure.to_value(u.s), sub.ladder.kept,
                                                  sub.ladder.speed, strict=True)],
    }


def _guide_star(advice: Advice) -> dict[str, Any] | None:
    star = advice.star
    if star is None:
        return None
    east, north = star.offset.to_value(u.deg).tolist()
    return {"magnitude_g": float(star.magnitude.value), "east_deg": east, "north_deg": north,
            "source": star.source}


def _loop(advice: Advice) -> dict[str, Any] | None:
    loop = None if advice.need is None else advice.need.loop
    if loop is None:
        return None
    return {"exposure_s": loop.exposure.to_value(u.s), "gain": float(loop.gain),
            "ra_rms_arcsec": loop.ra_rms.to_value(u.arcsec), "dec_rms_arcsec": loop.dec_rms.to_value(u.arcsec)}
