"""A report on test frames: each with its place on the sky, its causes and its prediction; then the whole series."""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import Annotated

import numpy as np
from astropy import units as u
from astropy.time import Time, TimeDelta

from planner.errors import InvalidInputError, PlannerError
from planner.fields import Spread, told
from planner.measure.drift.model import DriftLog
from planner.measure.frame.expected import Comparison, compare, expected_stars
from planner.measure.frame.field_shape import FieldShape, Tilt, field_shape
from planner.measure.frame.grade import FEWEST_FOR_SERIES, REJECT, Grade, Trend, grades, trends, wider_than_expected
from planner.measure.frame.model import FrameReport, Known, Measured
from planner.measure.frame.night import (
    FEWEST,
    FocusDrift,
    NightSeeing,
    field_motion,
    focus_drift,
    night_seeing,
)
from planner.measure.frame.series import drift_log_of, frame_offsets
from planner.measure.frame.sky_trail import Cause, Orientation, sky_trail
from planner.measure.frame.transparency import Light, light_of, weights_of
from planner.measure.stars.plane import Frame
from planner.measure.stars.star_field import StarField
from planner.rig import Rig

SAME_SCALE = 0.1  # of a rig's scale: focal lengths and reducers are known no better (common practice, no source)
LOWEST_DEG = 5.0  # no frame is taken lower (common practice, no source)


@dataclass(frozen=True, kw_only=True)
class Report:
    """All frames, in the order given."""

    frames: Annotated[tuple[FrameReport, ...], "in the order given"]
    trends: Annotated[tuple[Trend, ...], "what changes over the series"]
    timed: bool  # trends are per hour; else per frame
    known: Annotated[Known, Spread()]
    from_file = told(str, "frame from which stars are 5 % wider than they were", lambda report: str(
        report.frames[report.focus.first].path), key="focus.from_file")
    tilt = told(Tilt | None, "what a tilt does to the FWHM; null where none shows",
                lambda report: report.shape and report.shape.tilt, key="tilt_fwhm")
    corners = told(dict[str, float] | None, "growth_pixels of the FWHM from the centre to the corners beside what a "
                   "tilt does, and error_pixels", lambda report: report.shape and report.shape.corners and dict(zip(
                       ("growth_pixels", "error_pixels"), report.shape.corners, strict=True)), key="corners_fwhm")

    @cached_property
    def focus(self) -> Annotated[FocusDrift | None, "where the focus began to go; null where it does not"]:
        """Where the focus began to go."""
        if self.timed:
            place = np.array([item.start.mjd for item in self.frames])  # type: ignore[union-attr]
        else:
            place = np.arange(len(self.frames), dtype=float)
        degrees = [np.nan if item.frame.temperature is None else item.frame.temperature.value for item in self.frames]
        order = np.argsort(place)
        found = focus_drift(place[order], np.array([_still(item.field) for item in self.frames])[order],
                            np.array(degrees)[order])
        return None if found is None else replace(found, first=int(order[found.first]))

    @cached_property
    def shape(self) -> FieldShape | None:
        """How the FWHM changes over the field on all frames alike; None for too few that are not rejected."""
        parts = [item.field.parts for item in self.frames
                 if item.field.parts is not None and item.grade.verdict != REJECT]
        return field_shape(parts) if len(parts) >= FEWEST else None

    @cached_property
    def motion(self) -> Annotated[Cause | None, "which way an unguided series moved; null where that is not told"]:
        """Which way the stars of an unguided series moved; None where that cannot be told."""
        if self.known.guided or len(self.frames) < FEWEST:
            return None
        try:
            return field_motion(series_log(self))
        except InvalidInputError:
            return None

    @cached_property
    def seeing(self) -> Annotated[NightSeeing | None, "of the night; null where it cannot be told"]:
        """The seeing of the night."""
        return night_seeing(self.frames, self.known)


def reported(results: list[Measured], known: Known) -> Report:
    """Return the report on frames that were measured."""
    pairs = [(result.path, result.frame, result.field) for result in results
             if result.frame is not None and result.field is not None]
    fields = [field for _, _, field in pairs]
    light, noise = _light(pairs, known), _noise(pairs)
    weights = weights_of(np.array([one.share for one in light]), np.array([field.fwhm.value for field in fields]),
                         np.array([field.noise for field in fields]))
    marks: dict[int, Grade] = {}
    for which in _alike([(frame.colour, field.shape) for _, frame, field in pairs]):
        marks |= zip(which, grades([fields[index] for index in which], tolerated_axis_ratio=known.axis_ratio,
                                   tolerated_growth=known.growth, light=[light[index] for index in which],
                                   noise=noise[which]), strict=True)
    alone = len(pairs) < FEWEST_FOR_SERIES
    reports = tuple(replace(_one(*pair, marks[index], known, alone), light=light[index].share,
                            light_error=light[index].error, weight=float(weights[index]))
                    for index, pair in enumerate(pairs))
    hours = None
    starts = [report.start for report in reports if report.start is not None]
    if len(starts) == len(reports):
        hours = np.array([(start - starts[0]).to_value(u.h) for start in starts])
    return Report(frames=reports, trends=tuple(trends(fields, hours)), timed=hours is not None, known=known)


def _alike(kinds: Sequence[Hashable]) -> list[list[int]]:
    """Return the places of each kind."""
    return [[index for index, one in enumerate(kinds) if one == kind] for kind in dict.fromkeys(kinds)]


def _light(pairs: list[tuple[Path, Frame, StarField]], known: Known) -> list[Light]:
    """Return the light of frames as shares of the clearest ones', each filter and colour for itself."""
    lights = [Light() for _ in pairs]
    for which in _alike([(frame.filter_name, frame.colour, field.shape) for _, frame, field in pairs]):
        times = [known.exposure if known.exposure is not None else pairs[index][1].exposure for index in which]
        found = light_of([pairs[index][2] for index in which],
                         [None if time is None else float(time.to_value(u.s)) for time in times])
        for index, one in zip(which, found, strict=True):
            lights[index] = one
    return lights


def _noise(pairs: list[tuple[Path, Frame, StarField]]) -> np.ndarray:
    """Return the variance of a pixel's noise over the typical frame's (n,), each filter, colour and length for itself.

    NaN where too few are alike to say what is typical.
    """
    noise = np.full(len(pairs), np.nan)
    for which in _alike([(frame.filter_name, frame.colour, field.shape, str(frame.exposure))
                         for _, frame, field in pairs]):
        variance = np.array([pairs[index][2].noise ** 2 for index in which])
        if len(which) >= FEWEST_FOR_SERIES and np.median(variance) > 0:
            noise[which] = variance / np.median(variance)
    return noise


def _one(path: Path, frame: Frame, field: StarField, grade: Grade, known: Known, alone: bool) -> FrameReport:
    notes = [*frame.notes, *field.notes]
    told = len(notes)
    if known.rig is not None and known.rig.camera.colour != "mono" and frame.colour is None:
        notes.append(f'The camera of rig "{known.rig.name}" records colours, and the header names no order of them: '
                     "name it with --mosaic. Nothing is predicted for the frame.")
    exposure = known.exposure if known.exposure is not None else frame.exposure
    orientation = _orientation(frame, known)
    scale = known.scale_of(frame) if orientation is None else orientation.image_scale
    notes += _other_rig(scale, known)
    start = None if frame.time is None else Time(frame.time, scale="utc")
    dec, hour_angle = _place(frame, known, start, notes)
    possible = len(notes) == told
    sky = comparison = None
    if field.trail is not None and field.trail.significant and orientation is not None:
        sky = sky_trail(field.trail, orientation, exposure=exposure, declination=dec, hour_angle=hour_angle,
                        latitude=None if known.site is None else known.site.latitude)
    if known.rig is not None and field.parts is not None and scale is not None and possible:
        comparison = _comparison(field, known.rig, known, scale, exposure, dec, hour_angle, notes)
    if alone and comparison is not None and comparison.wider:
        grade = wider_than_expected(grade)
    return FrameReport(path=path, frame=frame, field=field, scale=scale, orientation=orientation, exposure=exposure,
                       start=start, dec=dec, hour_angle=hour_angle, sky=sky, comparison=comparison,
                       notes=tuple(notes), grade=grade)


def _other_rig(scale: u.Quantity | None, known: Known) -> list[str]:
    """Say that a frame has another scale than the rig that is said to have made it."""
    usual = known.rig_scale
    if known.rig is None or usual is None or scale is None or abs(float(scale / usual) - 1) <= SAME_SCALE:
        return []
    return [f'A pixel of the frame is {scale.value:.3g}″ of sky, one of rig "{known.rig.name}" {usual.value:.3g}″: '
            "another rig, reducer or binning. Nothing is predicted for it; name the right rig."]


def _still(field: StarField) -> float:
    """Return the FWHM of a frame without its trail."""
    trail = field.trail
    return float((trail.still_fwhm if trail is not None and trail.significant else field.fwhm).value)


def _orientation(frame: Frame, known: Known) -> Orientation | None:
    """Return how the camera lies on the sky: the angle given, else the header's world coordinates."""
    if known.camera_angle is not None:
        scale = known.scale_of(frame)
        if scale is None:
            raise InvalidInputError("camera-angle", f"{known.camera_angle:g}", "needs the sky per pixel beside it",
                                    "Give the image scale, or name your rig.")
        return Orientation.from_angle(scale, known.camera_angle, mirrored=known.mirrored)
    return None if frame.sky is None else Orientation(frame.sky)


def _place(frame: Frame, known: Known, start: Time | None, notes: list[str]
           ) -> tuple[u.Quantity | None, u.Quantity | None]:
    """Return declination and hour angle at the start of the exposure, as far as they are known and can be true."""
    from planner.visibility import Target, places
    from planner.visibility.darkness import SUNSET_DEG, sun_altitude

    target = known.target
    if target is None and frame.ra is not None and frame.dec is not None:
        target = Target("frame", frame.ra, frame.dec)
    if target is None:
        return None, known.hour_angle
    if known.hour_angle is not None or known.site is None or start is None:
        return target.dec, known.hour_angle
    sun = float(sun_altitude(known.site, start)[0].to_value(u.deg))
    if sun > SUNSET_DEG:
        notes.append(f'At its time the Sun stood {sun:.0f}° above the horizon of "{known.site.name}": DATE-OBS '
                     "is to be UTC, or the site is another. Nothing is predicted for it.")
        return target.dec, None
    found = places([target], known.site, start)
    altitude = found.apparent_altitude[0, 0].to_value(u.deg)
    if altitude < LOWEST_DEG:
        where = f"{abs(altitude):.0f}° {'above' if altitude > 0 else 'below'} the horizon"
        notes.append(f'At its time the field stood {where} of the site "{known.site.name}": time, place or site is '
                     "another. Nothing is predicted for it.")
        return target.dec, None
    return found.declination[0], found.hour_angle[0, 0]


def _comparison(field: StarField, rig: Rig, known: Known, scale: u.Quantity, exposure: u.Quantity | None,
                dec: u.Quantity | None, hour_angle: u.Quantity | None, notes: list[str]) -> Comparison | None:
    """Return measured against predicted, or note what is missing for it."""
    if exposure is None or known.site is None or known.band is None or dec is None or hour_angle is None:
        needed = (("exposure", exposure), ("site", known.site), ("target", dec), ("hour angle", hour_angle))
        missing = [word for word, value in needed if value is None]
        notes.append(f'No prediction for rig "{rig.name}": give {" and ".join(missing)}.')
        return None
    try:
        expected = expected_stars(rig, known.site, known.band, declination=dec, hour_angle=hour_angle,
                                  exposure=exposure, guided=known.guided)
    except PlannerError as error:
        notes.append(f"No prediction: {error}")
        return None
    return compare(field, expected, scale)


def series_log(report: Report) -> DriftLog:
    """Return the drift log of a series, in order of time.

    Raises InvalidInputError if a time or the orientation of the camera is not known, or the frames do not share their
    stars.
    """
    untimed = [item.path.name for item in report.frames if item.start is None]
    if untimed:
        raise InvalidInputError("log", ", ".join(untimed[:3]), "needs the time of every frame",
                                "Write DATE-OBS (UTC, with the time of day) into the headers.")
    frames = sorted(report.frames, key=lambda item: item.start.mjd)  # type: ignore[union-attr]
    first = frames[0]
    if first.orientation is None:
        raise InvalidInputError("log", first.path.name, "needs the camera's place on the sky",
                                "Give image scale and camera angle, or frames with world coordinates.")
    if len({item.field.shape for item in frames}) > 1:
        raise InvalidInputError("log", f"{len(frames)} frames", "must be of one size", "Leave the others out.")
    offsets = frame_offsets([item.field.stars for item in frames], first.field.shape)
    middles = [item.start + TimeDelta((item.exposure if item.exposure is not None else 0 * u.s) / 2) for item in frames]
    time = u.Quantity([(middle - middles[0]).to(u.s) for middle in middles])
    site = report.known.site
    exposures = [item.exposure.to_value(u.s) for item in frames if item.exposure is not None]
    return drift_log_of(offsets, time, first.orientation, declination=first.dec, hour_angle=first.hour_angle,
                        latitude=None if site is None else site.latitude, site=None if site is None else site.name,
                        exposure=float(np.median(exposures)) * u.s if exposures else None)
