"""A report on test frames as plain numbers, texts and lists: keys end in their unit; what is not known is None."""

from typing import Any

import numpy as np
from astropy import units as u

from planner.checks import given
from planner.measure.frame.expected import Comparison
from planner.measure.frame.model import FrameReport
from planner.measure.frame.report import Report
from planner.measure.frame.sky_trail import Cause, SkyTrail
from planner.measure.stars.field_parts import FieldPart
from planner.measure.stars.star_field import StarField

Table = dict[str, Any]


def frames_document(report: Report) -> Table:
    """Return everything that the report holds."""
    known = report.known
    return {
        "frames": [_frame(item) for item in report.frames],
        "trends": [{"name": trend.name, "unit": trend.unit, "per": "hour" if report.timed else "frame",
                    "slope": trend.per_hour, "slope_low": trend.low, "slope_high": trend.high,
                    "chance": trend.chance, "significant": trend.significant} for trend in report.trends],
        **_together(report),
        "rig": None if known.rig is None else known.rig.name, "site": None if known.site is None else known.site.name,
        "tolerated_axis_ratio": known.axis_ratio, "tolerated_fwhm_growth": known.growth,
    }


def _together(report: Report) -> Table:
    focus, shape, motion, seeing = report.focus, report.shape, report.motion, report.seeing
    return {
        "focus": None if focus is None else {
            "from_file": str(report.frames[focus.first].path), "sharp_fwhm_pixels": focus.sharp.value,
            "last_fwhm_pixels": focus.last.value,
            "temperatures_deg_C": None if focus.temperatures is None else focus.temperatures.value,
            "refocus_every_K": None if focus.refocus_every is None else focus.refocus_every.value},
        "tilt_fwhm": None if shape is None or shape.tilt is None else {
            "corner_to_corner_pixels": shape.tilt.size, "error_pixels": shape.tilt.error,
            "towards_angle_from_columns_deg": shape.tilt.angle_deg, "both_sides": shape.tilt.both_sides},
        "corners_fwhm": None if shape is None or shape.corners is None else dict(zip(
            ("growth_pixels", "error_pixels"), shape.corners, strict=True)),
        "motion": None if motion is None else _cause(motion),
        "seeing": None if seeing is None else {
            "night": seeing.night, "zenith_500_nm_arcsec": seeing.value.value, "error_arcsec": seeing.error.value,
            "frames": seeing.frames},
    }


def _frame(item: FrameReport) -> Table:
    field = item.field
    on_sky = item.orientation is not None
    return {
        "file": str(item.path), "stars": field.found, "stars_used": field.used, "rejected": field.rejected,
        "columns": field.shape[1], "rows": field.shape[0], "background": field.background, "noise": field.noise,
        "image_scale_arcsec_per_pixel": None if item.scale is None else item.scale.to_value(u.arcsec / u.pix),
        **_both("fwhm", field.fwhm, item), **_both("fwhm_error", field.fwhm_error, item),
        **_both("fwhm_major", field.fwhm_major, item), **_both("fwhm_minor", field.fwhm_minor, item),
        "elongation": field.elongation, "elongation_error": field.elongation_error,
        "elongation_significant": field.elongation_significant, "elongation_typical": field.elongation_typical,
        "elongation_worst": field.worst_elongation,
        "position_angle_deg": angle_of(item, field.angle).value, "position_angle_error_deg": field.angle_error.value,
        "position_angle_of": "sky" if on_sky else "image", "angle_from_columns_deg": field.angle.value,
        "light": item.light, "light_error": item.light_error, "weight": item.weight,
        "ring_pixels": field.ring.value or None, "double_pixels": field.double.value or None,
        "verdict": item.grade.verdict, "reasons": list(item.grade.reasons), "map": _map(item),
        "parts": None if field.parts is None else _parts(field), "trail": _trail(item),
        "exposure_s": None if item.exposure is None else item.exposure.to_value(u.s),
        "start_utc": None if item.frame.time is None else f"{item.frame.time[:19]}Z",
        "dec_deg": None if item.dec is None else item.dec.to_value(u.deg),
        "hour_angle_deg": None if item.hour_angle is None else item.hour_angle.to_value(u.deg),
        "predicted": None if item.comparison is None else _predicted(item.comparison),
        "notes": [*item.notes, *([field.reason] if field.reason else [])],
    }


def angle_of(item: FrameReport, angle: u.Quantity) -> u.Quantity:
    """Return a position angle: on the sky, or where that is not known from up over left in the image."""
    if item.orientation is not None:
        return item.orientation.position_angle(angle)
    return (angle - 90 * u.deg) % (180 * u.deg)


def _both(name: str, value: u.Quantity, item: FrameReport) -> Table:
    """Return a width in pixels, and in arcsec where the scale is known."""
    found: Table = {f"{name}_pixels": value.to_value(u.pix)}
    if item.scale is not None:
        found[f"{name}_arcsec"] = (value * item.scale).to_value(u.arcsec)
    return found


def _map(item: FrameReport) -> Table:
    field = item.field
    return {"fwhm_pixels": field.map_fwhm.value, "elongation": field.map_elongation,
            "elongation_error": field.map_elongation_error, "position_angle_deg": angle_of(item, field.map_angle).value,
            "stars": field.map_stars}


def _part(part: FieldPart) -> Table:
    return {"elongation": part.elongation, "trail_pixels": part.trail.value, "significance_sigma": part.significance,
            "present": part.present}


def _parts(field: StarField) -> Table:
    parts = given(field.parts)
    return {
        "common": {**_part(parts.common), "angle_from_columns_deg": parts.common.angle.value},
        "radial": {**_part(parts.radial), "sense": parts.radial_sense, "fwhm_growth_pixels": parts.fwhm_growth.value,
                   "fwhm_growth_error_pixels": parts.fwhm_growth_error.value},
        "tilt": {**_part(parts.tilt), "fwhm_slope_pixels": parts.fwhm_slope.value,
                 "fwhm_slope_error_pixels": parts.fwhm_slope_error.value,
                 "fwhm_slope_angle_from_columns_deg": parts.fwhm_slope_angle.value,
                 "fwhm_fold_pixels": parts.fwhm_fold.value, "fwhm_fold_error_pixels": parts.fwhm_fold_error.value,
                 "fwhm_fold_angle_from_columns_deg": parts.fwhm_fold_angle.value},
        "rotation": {**_part(parts.rotation), "angle_deg": parts.rotation_angle.value,
                     "angle_error_deg": parts.rotation_angle_error.value, "centre_pixels": parts.rotation_centre},
    }


def _trail(item: FrameReport) -> Table | None:
    trail = item.field.trail
    if trail is None:
        return None
    return {"length_pixels": trail.length.value, "error_pixels": trail.error.value, "significant": trail.significant,
            "significance_sigma": trail.significance, "upper_limit_pixels": trail.upper_limit.value,
            "angle_from_columns_deg": trail.angle.value, "angle_error_deg": trail.angle_error.value,
            "position_angle_deg": angle_of(item, trail.angle).value, **_both("still_fwhm", trail.still_fwhm, item),
            "sky": None if item.sky is None else _sky(item.sky)}


def _sky(sky: SkyTrail) -> Table:
    rate = u.arcsec / u.min
    return {"length_arcsec": sky.length.value, "error_arcsec": sky.error.value, "ra_arcsec": sky.ra.value,
            "dec_arcsec": sky.dec.value, "position_angle_deg": sky.position_angle.value,
            "rate_arcsec_per_min": None if sky.rate is None else sky.rate.to_value(rate),
            "rate_error_arcsec_per_min": None if sky.rate_error is None else sky.rate_error.to_value(rate),
            "either_of": [_cause(cause) for cause in sky.causes]}


def _cause(cause: Cause) -> Table:
    rate = u.arcsec / u.min
    polar = {f"polar_{name}_arcmin": getattr(cause, f"polar_{name}") for name in (
        "least", "altitude_error", "azimuth_error")}
    return {"ra_rate_arcsec_per_min": cause.ra_rate.to_value(rate),
            "dec_rate_arcsec_per_min": cause.dec_rate.to_value(rate), "rate_error_ppm": cause.rate_error_ppm,
            **{name: None if value is None else value.to_value(u.arcmin) for name, value in polar.items()}}


def _predicted(comparison: Comparison) -> Table:
    expected = comparison.expected
    return {"fwhm_arcsec": expected.fwhm[1].to_value(u.arcsec),
            "fwhm_arcsec_10_90_percent": expected.fwhm.to_value(u.arcsec)[[0, 2]],
            "still_fwhm_arcsec": expected.still_fwhm[1].to_value(u.arcsec),
            "still_fwhm_arcsec_10_90_percent": expected.still_fwhm.to_value(u.arcsec)[[0, 2]],
            "elongation": float(expected.elongation[1]),
            "elongation_10_90_percent": np.asarray(expected.elongation)[[0, 2]],
            "position_angle_deg": expected.position_angle.to_value(u.deg), "guided": expected.guided,
            "answer": list(comparison.sentences)}
