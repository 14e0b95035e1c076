"""What was measured on a frame, in words."""

import math

from astropy import units as u

from planner.checks import given
from planner.exposure.reasons import percent
from planner.measure.frame.expected import Comparison
from planner.measure.frame.field_shape import field_shape, shape_lines
from planner.measure.frame.model import FrameReport, Known
from planner.measure.frame.sky_trail import Cause
from planner.measure.stars.field_parts import FieldParts
from planner.measure.stars.star_field import StarField
from planner.signs import minus

ONE_FRAME = "One frame cannot tell a trail from optics that stretch all stars alike: compare a shorter exposure."


def length_text(value: u.Quantity, item: FrameReport, digits: int = 2) -> str:
    """Return a length in arcsec and pixels, in pixels alone where the scale is unknown."""
    if not math.isfinite(value.value):
        return "none"
    if item.scale is None:
        return f"{value.value:.{digits}f} px"
    return f"{(value * item.scale).to_value(u.arcsec):.{digits}f}″ = {value.value:.{digits}f} px"


def width_text(item: FrameReport) -> str:
    """Return the FWHM of a frame with its error."""
    error = item.field.fwhm_error
    first, *pixels = length_text(item.field.fwhm, item).split(" = ")
    if not math.isfinite(error.value):
        return first
    spread = f"{max(error.value, 0.01):.2f} px" if item.scale is None else (
        f"{max((error * item.scale).to_value(u.arcsec), 0.01):.2f}″")
    return " = ".join([f"{first} ± {spread}", *pixels])


def tolerated_text(known: Known, *, series: bool = False) -> str:
    """Return what the observer tolerates; in a series, of the FWHM too."""
    width = f", FWHM to {percent(known.growth)} above the best tenth" if series else ""
    return f"tolerated: elongation to {1 - known.axis_ratio:.2f}{width}"


def elongation_text(item: FrameReport) -> str:
    """Return the elongation of a frame with its error."""
    field = item.field
    return "none" if field.parts is None else f"{field.elongation:.3f} ± {max(field.elongation_error, 0.001):.3f}"


def angle_text(item: FrameReport) -> str:
    """Return the direction of the elongation, empty where it is not significant."""
    field = item.field
    if field.parts is None or not field.elongation_significant:
        return ""
    return f"{item.angle_of(field.angle).value:.0f}° ± {max(field.angle_error.value, 1):.0f}°"


def direction_text(item: FrameReport) -> str:
    """Return the direction of the elongation as the end of a sentence."""
    angle = angle_text(item)
    if not angle:
        return ", not significant"
    return f", position angle {angle}" if item.orientation is not None else (
        f", {angle} from up over left in the image (camera angle unknown)")


def trail_text(item: FrameReport) -> str:
    """Return the length of a significant trail, else an empty text."""
    trail = item.field.trail
    if trail is None or not trail.significant:
        return ""
    return length_text(trail.length, item, 1)


def trail_lines(item: FrameReport) -> list[str]:
    """Return what is known of the trail, on the sky too."""
    trail = given(item.field.trail)
    if not trail.significant:
        return [f"No significant trail: the stars did not move further than {length_text(trail.upper_limit, item)}."]
    line = f"Trail {length_text(trail.length, item)} ± {trail.error.value:.2f} px; without it the FWHM would be " \
           f"{length_text(trail.still_fwhm, item)}."
    lines = [line, ONE_FRAME]
    sky = item.sky
    if sky is None:
        return lines
    lines.append(f"On the sky {abs(sky.ra.value):.2f}″ in right ascension and {abs(sky.dec.value):.2f}″ in declination"
                 + ("" if sky.rate is None else f", {sky.rate.value:.2f}″ per minute in all") + ".")
    return lines


def cause_lines(item: FrameReport) -> list[str]:
    """Return what would explain a trail, for each of the two ways in which the star may have gone."""
    if item.sky is None or item.field.trail is None or not item.field.trail.significant:
        return []
    return [f"{word} {cause_line(cause)}" for word, cause in
            zip(("If it went north:", "If it went south:"), item.sky.causes, strict=False)]


def cause_line(cause: Cause) -> str:
    """Return what would explain one reading of the trail."""
    parts = [minus(f"RA {cause.ra_rate.value:+.2f}, Dec {cause.dec_rate.value:+.2f}″ per minute")]
    if cause.rate_error_ppm is not None:
        side = "fast" if cause.rate_error_ppm > 0 else "slow"
        parts.append(f"a drive {float(f'{abs(cause.rate_error_ppm):.2g}'):.0f} ppm too {side}")
    if cause.polar_least is not None:
        axis = [f"{abs(value.to_value(u.arcmin)):.1f}′ {words[0] if value.value > 0 else words[1]}"
                for value, words in ((cause.polar_altitude_error, ("too high", "too low")),
                                     (cause.polar_azimuth_error, ("east", "west"))) if value is not None]
        least = f"a polar axis at least {cause.polar_least.to_value(u.arcmin):.1f}′ off"
        parts.append(f"{least} ({' or '.join(axis)})" if axis else least)
    return "; ".join(parts)


def part_lines(parts: FieldParts) -> list[str]:
    """Return what the star shapes are made of."""
    lines = []
    if parts.rotation.present and parts.rotation_centre is not None:
        x, y = parts.rotation_centre
        lines.append(f"The field turned by {parts.rotation_angle.value:.3f}° ± {parts.rotation_angle_error.value:.3f}° "
                     f"around column {x:.0f}, row {y:.0f} (as from the polar axis while a star is held; out-of-focus "
                     "astigmatism looks alike around the centre).")
    if parts.radial.present:
        words = ("point away from the centre, as with coma or curvature" if parts.radial_sense == "outward"
                 else "lie around the centre")
        lines.append(f"Stars towards the corners {words}: elongation {parts.radial.elongation:.2f} there.")
    if parts.tilt.present:
        lines.append(f"Elongation changes across the field as a plane, by up to {parts.tilt.elongation:.2f} at a "
                     "corner, as with a tilted sensor.")
    lines += shape_lines(field_shape([parts]), 1.0, " px")
    return lines or ["Star shapes are the same all over the field."]


def rejected_text(rejected: dict[str, int]) -> str:
    """Return how many sources were left out and why."""
    words = ", ".join(f"{count} {word}" for word, count in sorted(rejected.items(), key=lambda pair: -pair[1]))
    return f" (left out: {words})" if words else ""


def map_rows(field: StarField) -> list[dict[str, str]]:
    """Return the nine parts of the frame as they lie in it, high rows on top: FWHM in pixels, elongation, stars."""
    def cell(row: int, column: int) -> str:
        if not math.isfinite(field.map_elongation[row, column]):
            return f"few stars ({field.map_stars[row, column]})"
        return (f"{field.map_fwhm[row, column].value:.2f}, {field.map_elongation[row, column]:.2f}, "
                f"{field.map_stars[row, column]}")

    return [{name: cell(row, column) for column, name in enumerate(("left", "middle", "right"))} for row in (2, 1, 0)]


def part_rows(parts: FieldParts) -> list[dict[str, str]]:
    """Return the parts of the star shapes, one row each, with their significance."""
    rows = (("common to the frame", parts.common), ("grows from the centre", parts.radial),
            ("changes as a plane", parts.tilt), ("circles a point", parts.rotation))
    return [{"part": name, "elongation": f"{part.elongation:.3f}", "trail (px)": f"{part.trail.to_value(u.pix):.2f}",
             "significance": f"{part.significance:.1f} σ", "present": "yes" if part.present else "no"}
            for name, part in rows]


def prediction_rows(comparison: Comparison) -> list[dict[str, str]]:
    """Return measured against predicted, one row each."""
    least, usual, most = comparison.expected.elongation
    rows = []
    for name, value, expected in (("FWHM (″)", comparison.fwhm, comparison.expected.fwhm),
                                  ("FWHM without motion (″)", comparison.still_fwhm, comparison.expected.still_fwhm)):
        low, middle, high = expected.to_value(u.arcsec)
        rows.append({"": name, "measured": f"{value.to_value(u.arcsec):.2f}", "predicted": f"{middle:.2f}",
                     "in 8 of 10": f"{low:.2f} to {high:.2f}"})
    return [*rows, {"": "elongation", "measured": f"{comparison.elongation:.3f}", "predicted": f"{usual:.3f}",
                    "in 8 of 10": f"{least:.3f} to {most:.3f}"}]
