"""A ranking of set-ups as plain numbers, texts and lists: what `--json` prints and a page lets one download."""

from collections.abc import Sequence
from typing import Any

import numpy as np
from astropy import units as u

from planner.exposure.depth import Depth
from planner.session.match.colour import are_two_rigs, shared_picture
from planner.session.match.combinations import Combinations
from planner.session.match.goals import two_stars
from planner.session.match.ranking import RANKINGS
from planner.session.match.set_ups import SetUp
from planner.session.match.text import limits


def match_document(asked: Combinations, rows: Sequence[SetUp], compared: Sequence[int] = ()) -> dict[str, Any]:
    """Return the ranking with keys that end in their unit; `compared` are ranks laid side by side."""
    target, goal, hours = asked.target, asked.goal, asked.hours.hour_angle
    ranking = RANKINGS[asked.ranking]
    return {
        "target": None if target is None else {
            "name": target.name, "ra_deg": target.ra.to_value(u.deg), "dec_deg": target.dec.to_value(u.deg),
            "size_arcmin": None if target.size_major is None else [
                axis.to_value(u.arcmin) for axis in (target.size_major, target.size_minor) if axis is not None]},
        "site": asked.site.name, "seeing_arcsec": asked.site.seeing.to_value(u.arcsec), "filter": asked.band.name,
        "mount": asked.rig.mount.name, "guider": None if asked.rig.guider is None else asked.rig.guider.name,
        "hour_angle_h": None if hours is None else [float(hours.min().to_value(u.hourangle)),
                                                    float(hours.max().to_value(u.hourangle))],
        "goal": {"brightness_mag_per_arcsec2": None if goal.brightness is None else float(goal.brightness.value),
                 "line": None if goal.line is None else str(goal.line), "signal_to_noise": goal.signal_to_noise,
                 "area_arcsec2": goal.area.to_value(u.arcsec**2),
                 "star_mag": None if asked.star is None else float(asked.star.value),
                 "apart_arcsec": None if asked.apart is None else float(asked.apart.value),
                 "core": None if asked.core is None else str(asked.core)},
        "ranked_on": {"name": asked.ranking,
                      "meaning": ranking.meaning if target is not None else ranking.meaning_without_target},
        "overlap_fraction": asked.overlap, "period_arcsec": float(asked.period.value), "drizzled": asked.drizzled,
        "night_h": None if asked.hours.length is None else asked.hours.length.to_value(u.h),
        "reason": None if rows else "The target never stands high enough at this site.",
        "set_ups": [set_up_row(asked, row) for row in rows], "compared": list(compared),
        "shared": _shared(asked, *(rows[rank - 1] for rank in compared)) if compared else None,
    }


def _shared(asked: Combinations, first: SetUp, second: SetUp) -> dict[str, Any] | None:
    """Return how two set-ups share a picture; nothing where they are not two rigs."""
    if not are_two_rigs(first, second):
        return None
    found = shared_picture(asked, first, second)
    return {"parts": list(found.parts), "alone_h": [_number(hours) for hours in found.alone],
            "crossed_h": [_number(hours) for hours in found.crossed], "shared_h": _number(found.hours),
            "first_takes_fraction": list(found.by_first)}


def set_up_row(asked: Combinations, row: SetUp) -> dict[str, Any]:
    """Return one set-up as a flat row; times are for the whole target, without one per square degree."""
    choice, angle, rows = row.choice, row.choice.framing.camera_angle, row.choice.framing.rows
    per = "h" if asked.target is not None else "h_per_deg2"
    return {
        "rank": row.rank, "as_good": row.as_good, "outclassed_by": row.outclassed_by, "reason": row.reason,
        "telescope": choice.telescope.name, "reducer": None if choice.reducer is None else choice.reducer.name,
        "camera": choice.camera.name, "binning": row.binnings[0], "binnings_alike": list(row.binnings),
        "verdict": row.verdict, "method": row.method, "sub_exposure_s": float(row.sub_exposure.to_value(u.s)),
        "kept_fraction": row.kept, f"surface_time_{per}": _finite(row.surface_time),
        f"detail_time_{per}": _finite(row.detail_time), f"star_time_{per}": _finite(row.star_time), **_depth(row.depth),
        "finest_period_arcsec": float(row.finest.value) if np.isfinite(row.finest.value) else None,
        "saturation_mag": float(row.saturation.value), "two_stars_arcsec": float(two_stars(asked, choice).value),
        "core_full_after_s": None if row.core is None else float(row.core.full_after.value),
        "short_sub_s": None if row.core is None or not row.core.full else float(row.core.short.value),
        "forbidden_period_arcsec": float(row.forbidden.value), "data_gigabyte_per_h": float(row.data.value),
        "load_kg": float(row.load.to_value(u.kg)),
        "focal_length_mm": float(choice.train.focal_length.to_value(u.mm)), "focal_ratio": choice.train.focal_ratio,
        "image_scale_arcsec_per_pixel": float(choice.image_scale.to_value(u.arcsec / u.pix)),
        "field_deg": [float(side.to_value(u.deg)) for side in (choice.field.width, choice.field.height)],
        "lit_side_fraction": choice.lit,
        "star_fwhm_arcsec": float(choice.fwhm.to_value(u.arcsec)), "star_fwhm_pixels": choice.fwhm_pixels,
        "picture_fwhm_arcsec": float(choice.picture_fwhm.to_value(u.arcsec)),
        "resolution_lost_fraction": choice.resolution_lost, "optics_fraction": choice.optics_share,
        "noise_fractions": vars(row.noise),
        "target_fraction": choice.framing.share if asked.target is not None else None,
        "panels": choice.framing.panels, "panel_grid": [max(map(len, rows)), len(rows)],
        "panel_centres_arcmin": [list(middle) for line in rows for middle in line],
        "camera_angle_deg": None if angle is None else float(angle.to_value(u.deg)),
        "limited_by": [limit.cause for limit in limits(asked, row)],
        "limits": [limit.sentence for limit in limits(asked, row)],
    }


def _depth(depth: Depth | None) -> dict[str, float | None]:
    found = {"depth_mag_per_arcsec2": None if depth is None else depth.brightness,
             "depth_line_rayleigh": None if depth is None else depth.line}
    return {key: float(value.value) if value is not None and np.isfinite(value.value) else None
            for key, value in found.items()}


def _finite(time: u.Quantity[u.h]) -> float | None:
    return _number(float(time.to_value(u.h)))


def _number(hours: float) -> float | None:
    return hours if np.isfinite(hours) else None
