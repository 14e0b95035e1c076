"""A ranking of combinations as plain numbers, texts and lists: what `--json` prints and a page lets one download."""

from collections.abc import Mapping, Sequence
from typing import Any

from astropy import units as u

from planner.exposure.sub_exposure import SubExposure
from planner.session.match.combination import Combination
from planner.session.match.combinations import Combinations
from planner.session.match.guiding_choice import OnMount
from planner.session.match.ranking import RANKINGS
from planner.session.match.text import limits


def combinations_document(asked: Combinations, judged: Mapping[int, OnMount],
                          compared: Sequence[int] = ()) -> dict[str, Any]:
    """Return the ranking with keys that end in their unit.

    Parameters
    ----------
    asked : Combinations
    judged : mapping of int to OnMount
        By rank, those that were asked of the mount.
    compared : sequence of int
        Ranks laid side by side.
    """
    target, goal, hours = asked.target, asked.goal, asked.hour_angle
    ranking = RANKINGS[asked.ranking]
    has_target = target is not None
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
                 "area_arcsec2": goal.area.to_value(u.arcsec**2)},
        "ranked_on": {"name": asked.ranking,
                      "meaning": ranking.meaning if has_target else ranking.meaning_without_target},
        "overlap_fraction": asked.overlap, "notes": list(asked.notes),
        "reason": None if asked.ranked else "The target never stands high enough at this site.",
        "combinations": [combination_row(asked, choice, judged.get(choice.rank)) for choice in asked.ranked],
        "compared": list(compared),
    }


def combination_row(asked: Combinations, choice: Combination, judged: OnMount | None = None) -> dict[str, Any]:
    """Return one choice as a flat row, and what the mount makes of it if that was asked."""
    ranking, has_target = RANKINGS[asked.ranking], asked.target is not None
    figure = f"figure_{ranking.unit if has_target else ranking.unit_without_target}"
    angle = choice.framing.camera_angle
    return {
        "rank": choice.rank, "outclassed_by": choice.outclassed_by, figure: asked.figure(choice),
        "telescope": choice.telescope.name, "reducer": None if choice.reducer is None else choice.reducer.name,
        "camera": choice.camera.name, "binning": choice.binning,
        "focal_length_mm": float(choice.train.focal_length.to_value(u.mm)), "focal_ratio": choice.train.focal_ratio,
        "image_scale_arcsec_per_pixel": float(choice.image_scale.to_value(u.arcsec / u.pix)),
        "field_deg": [float(side.to_value(u.deg)) for side in (choice.field.width, choice.field.height)],
        "lit_side_fraction": choice.lit,
        "star_fwhm_arcsec": float(choice.fwhm.to_value(u.arcsec)), "star_fwhm_pixels": choice.fwhm_pixels,
        "resolution_lost_fraction": choice.resolution_lost, "optics_fraction": choice.optics_share,
        "sub_exposure_s": float(choice.sub_exposure.to_value(u.s)),
        "surface_time_h": float(choice.surface_time.to_value(u.h)),
        "detail_time_h": float(choice.detail_time.to_value(u.h)),
        "noise_fractions": vars(choice.noise),
        "target_fraction": choice.framing.share if has_target else None,
        "panels": choice.framing.panels, "panel_grid": list(choice.framing.grid),
        "camera_angle_deg": None if angle is None else float(angle.to_value(u.deg)),
        "limited_by": [limit.cause for limit in limits(asked, choice)],
        "limits": [limit.sentence for limit in limits(asked, choice)],
        "on_mount": None if judged is None else {
            "verdict": judged.need.verdict, "unguided": _sub(judged.need.unguided),
            "guided": None if judged.need.guided is None else _sub(judged.need.guided),
            "surface_time_h": None if judged.total is None else float(judged.total.clock_time.to_value(u.h))},
    }


def _sub(sub: SubExposure) -> dict[str, Any]:
    return {"sub_exposure_s": float(sub.recommended.to_value(u.s)), "kept_fraction": sub.kept, "speed": sub.speed}
