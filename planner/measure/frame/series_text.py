"""What a series of test frames says, in words: what to do next, what changed, what all frames share."""

import math
from collections.abc import Sequence

from astropy import units as u

from planner.exposure.reasons import percent
from planner.measure.error_text import with_error
from planner.measure.frame.field_shape import field_shape, shape_lines
from planner.measure.frame.grade import REJECT, Fault
from planner.measure.frame.model import FrameReport
from planner.measure.frame.report import Report
from planner.measure.frame.text import cause_line, elongation_text, width_text
from planner.measure.stars.sharp_stars import FEWEST_FOR_PSF
from planner.signs import minus


def trend_lines(report: Report) -> list[str]:
    """Return what changed over the series; empty for too few frames to tell."""
    per = "hour" if report.timed else "frame"
    changed = [trend for trend in report.trends if trend.significant]
    if report.trends and not changed:
        width = "" if report.focus is not None else "FWHM, "
        return [f"No trend in {width}elongation, star count or background."]
    return [f"{trend.name[:1].upper()}{trend.name[1:]}: "
            + with_error(trend.per_hour * size, (trend.high - trend.low) / 4 * size, unit, sign="+") + f" per {per}."
            for trend in changed for size, unit in [_shown_in(trend.unit, report.frames[0].scale)]]


def _shown_in(unit: str, scale: u.Quantity | None) -> tuple[float, str]:
    """Return the factor and the unit in which a trend is told: pixels in arcsec where their size is known."""
    if unit == "pix" and scale is not None:
        return float(scale.to_value(u.arcsec / u.pix)), "″"
    return 1.0, f" {unit}" if unit else ""


def next_lines(report: Report) -> list[str]:
    """Return what the series asks the observer to do, most urgent first."""
    def with_fault(fault: Fault) -> list[FrameReport]:
        return [item for item in report.frames if fault in item.grade.faults]

    rings, cloudy, noisy, long = (with_fault(fault) for fault in ("focus", "cloud", "sky", "shape"))
    wide = [item for item in with_fault("width") if item not in long]
    leaning = [] if report.shape is not None and report.shape.tilt is not None else [
        item for item in wide if _leans(item)]
    doubled = with_fault("double")
    lines = []
    if doubled:
        lines.append(f"Every star is double on {_frames(doubled)}: a knock on the mount or a cable; leave out.")
    if rings:
        lines.append(f"Refocus: the stars are rings on {_frames(rings)}.")
    if len(leaning) < len(wide):
        lines.append(_focus_line(report, [item for item in wide if item not in leaning]))
    if leaning:
        lines.append(f"Wide stars towards one side on {_frames(leaning)}: camera or focuser leans there and not on the "
                     "other frames; see that nothing is loose.")
    if cloudy:
        least = min(item.light for item in cloudy)
        share = "" if math.isnan(least) else f", down to {percent(least)} of the light"
        lines.append(f"Cloud or haze on {_frames(cloudy)}{share}"
                     + (": wait until it clears." if report.frames[-1] in cloudy else "; clear since."))
    if noisy:
        lines.append(f"A bright sky on {_frames(noisy)}: twilight, the Moon, a lamp or lit cloud.")
    if long:
        lines.append(f"Elongated stars on {_frames(long)}: " + (
            "shorten the exposure, or guide." if 2 * len(long) > len(report.frames) else
            f"wind, a cable or a steep part of the worm; leave {'it' if len(long) == 1 else 'them'} out."))
    lost = [item for item in with_fault("stars") if item.grade.verdict == REJECT and item not in (*rings, *cloudy)]
    bare = [item for item in lost if item.field.found < FEWEST_FOR_PSF]
    if bare:
        lines.append(f"Too few stars on {_frames(bare)}: a cover, cloud, or far out of focus?")
    if len(bare) < len(lost):
        some = _frames([item for item in lost if item not in bare])
        lines.append(f"No star to measure among many on {some}: smeared, crowded or doubled; leave out.")
    return lines or ["Nothing to do: go on as you are."]


def _leans(item: FrameReport) -> bool:
    """Return whether the stars of one frame grow towards one side or two."""
    shape = None if item.field.parts is None else field_shape([item.field.parts])
    return shape is not None and shape.tilt is not None


def _focus_line(report: Report, wide: list[FrameReport]) -> str:
    """Return what the wide frames ask for: a focus that goes has an onset, and often follows the temperature."""
    focus = report.focus
    if focus is None:
        return f"Wide stars on {_frames(wide)}, no steady growth: seeing or a knock. Refocus if it stays so."
    scale, unit = _shown_in("pix", report.frames[0].scale)
    line = (f"Refocus: FWHM grows from {_when(report.frames[focus.first])} on, {focus.sharp.value * scale:.2f} to "
            f"{focus.last.value * scale:.2f}{unit}; {_frames(wide)} too wide.")
    if focus.temperatures is None or focus.refocus_every is None:
        return line
    begin, end = focus.temperatures.value
    return minus(f"{line} The air went from {begin:.1f} to {end:.1f} °C meanwhile: refocus every "
                 f"{focus.refocus_every.value:.1g} K.")


def night_lines(report: Report) -> list[str]:
    """Return what the frames say together: the field's shape, which way it moved."""
    scale, unit = _shown_in("pix", report.frames[0].scale)
    lines = [f"On all frames {line}" for line in shape_lines(report.shape, scale, unit)]
    if report.motion is not None:
        lines.append(f"From frame to frame the stars went {cause_line(report.motion)}.")
    return lines


def seeing_lines(report: Report) -> list[str]:
    """Return the seeing of the night; empty where it cannot be told."""
    found = report.seeing
    if found is None:
        return []
    count = f"{found.frames} frame{'s' if found.frames > 1 else ''}"
    return [f"Seeing of the night of {found.night}: {with_error(found.value.value, found.error.value, '″')} at the "
            f"zenith, 500 nm ({count})."]


def _frames(items: Sequence[FrameReport]) -> str:
    if len(items) == 1:
        return f"one frame, {_when(items[0])}"
    if len(items) == 2:
        return f"two frames, {_when(items[0])} and {_when(items[1])}"
    return f"{len(items)} frames between {_when(items[0])} and {_when(items[-1])}"


def _when(item: FrameReport) -> str:
    return item.path.name if item.start is None else f"{item.start.isot[11:16]} UTC"


def frame_lines(item: FrameReport) -> list[str]:
    """Return one frame in a line: verdict, width, shape, light, and where it is off what was expected."""
    light = "" if item.light != item.light else f", light {percent(item.light)}"
    why = f": {'; '.join(item.grade.reasons)}" if item.grade.reasons else ""
    line = (f"{item.path.name}  {item.grade.verdict}{why}  (FWHM {width_text(item).split(' = ')[0]}, elongation "
            f"{elongation_text(item)}{light})")
    off = [] if item.comparison is None else [
        sentence for sentence in item.comparison.sentences if not sentence.endswith("as expected for this rig.")]
    return [line, *(f"  {sentence}" for sentence in off)]
