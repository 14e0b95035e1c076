"""What is asked of test frames, what each of them held, and what is known beside them."""

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

import numpy as np
from astropy import units as u
from astropy.time import Time

from planner.errors import PlannerError
from planner.fields import Key, Many, Maybe, Spread, told
from planner.measure.frame.expected import Comparison
from planner.measure.frame.grade import Grade
from planner.measure.frame.sky_trail import Orientation, SkyTrail
from planner.measure.stars.plane import Frame
from planner.measure.stars.star_field import StarField
from planner.optics import image_scale
from planner.rig import Filter, Rig, Site
from planner.visibility.target import Target


def rig_scale(rig: Rig) -> u.Quantity[u.arcsec / u.pix]:
    """Return the sky in a pixel of a rig's frames, binning included."""
    return image_scale(rig.camera.pixel_pitch, rig.telescope.focal_length, binning=rig.binning)


@dataclass(frozen=True, kw_only=True)
class Known:
    """What is known beside the frames themselves; None where nothing is."""

    rig: Annotated[Rig | None, "that made the frames"]
    site: Annotated[Site | None, "where"]
    band: Filter | None
    target: Target | None  # None: where the header says
    scale: u.Quantity | None  # arcsec/pix, as said; None: the header's, else the rig's
    camera_angle: u.Quantity | None
    mirrored: bool
    exposure: u.Quantity | None
    hour_angle: u.Quantity | None
    guided: bool
    axis_ratio: Annotated[float, "smallest minor over major axis of a star to keep", Key("tolerated_axis_ratio")]
    growth: Annotated[float, "largest growth of the FWHM over the sharpest, as a share", Key("tolerated_fwhm_growth")]

    @property
    def rig_scale(self) -> u.Quantity | None:
        """Sky in a pixel of the rig, binning included, arcsec/pix."""
        return None if self.rig is None else rig_scale(self.rig)

    @property
    def usual_scale(self) -> u.Quantity | None:
        """Sky in a pixel of a frame whose header does not say it, arcsec/pix."""
        return self.rig_scale if self.scale is None else self.scale

    def scale_of(self, frame: Frame) -> u.Quantity | None:
        """Return the sky in a pixel of a frame, arcsec/pix: as said, else the header's, else the rig's."""
        return frame.image_scale if self.scale is None and frame.image_scale is not None else self.usual_scale


@dataclass(frozen=True)
class Measured:
    """A frame without its pixels, and what was measured; or why it was not."""

    path: Annotated[Path, "the frame", Key("file")]
    frame: Frame | None = None
    field: StarField | None = None
    error: Annotated[PlannerError | None, "why it was not measured", Key("problem")] = None
    picture: np.ndarray | None = None  # (rows, columns) of bytes, first row first, if it was asked for


@dataclass(frozen=True, kw_only=True)
class FrameReport:
    """One frame and everything that follows from it."""

    path: Annotated[Path, "the frame", Key("file")]
    frame: Frame
    field: Annotated[StarField, Spread()]
    scale: Annotated[u.Quantity[u.arcsec / u.pix] | None, "sky in a pixel", Key("image_scale_arcsec_per_pixel")]
    orientation: Orientation | None
    exposure: Annotated[u.Quantity[u.s] | None, "of the frame"]
    start: Time | None
    dec: Annotated[u.Quantity[u.deg] | None, "of its centre"]
    hour_angle: Annotated[u.Quantity[u.deg] | None, "of its centre at the start, west positive"]
    sky: Annotated[SkyTrail | None, "the trail on the sky; null where the camera's angle is not known",
                   Key("trail.sky")]
    comparison: Annotated[Comparison | None, "what the rig should have made; null where no rig is known",
                          Key("predicted")]
    notes: tuple[str, ...]
    grade: Annotated[Grade, Spread()]
    light: Annotated[float, "share of the clearest frames' light"] = float("nan")
    light_error: Annotated[float, "of that share"] = float("nan")
    weight: Annotated[float, "for faint stars, of the best frame's"] = float("nan")
    begun = told(str | None, "when its exposure began", lambda item: None if item.frame.time is None else
                 f"{item.frame.time[:19]}Z", key="start_utc")
    remarks = told(tuple[str, ...], "what else is to be known", lambda item: [
        *item.notes, *filter(None, [item.field.reason])], key="notes")
    position_angle = told(u.deg, "of the elongation, as position_angle_of says", lambda item: item.angle_of(
        item.field.angle))
    position_angle_of = told(str, "sky: from north through east; image: from up over left",
                             lambda item: "image" if item.orientation is None else "sky")
    map_angle = told(u.deg, "position angles by places", lambda item: item.angle_of(item.field.map_angle), Many(),
                     key="map.position_angle_deg")
    trail_angle = told(u.deg, "of the trail, as position_angle_of says", lambda item: item.angle_of(
        item.field.trail.angle), key="trail.position_angle_deg")
    still_fwhm = told(u.arcsec, "of the same star without the trail", lambda item: item.on_sky(
        item.field.trail.still_fwhm), Maybe(), key="trail.still_fwhm_arcsec")
    fwhm = told(u.arcsec, "of the mean star, pixel included", lambda item: item.on_sky(item.field.fwhm), Maybe())
    fwhm_error = told(u.arcsec, "of that width", lambda item: item.on_sky(item.field.fwhm_error), Maybe())
    fwhm_major = told(u.arcsec, "along the longer axis", lambda item: item.on_sky(item.field.fwhm_major), Maybe())
    fwhm_minor = told(u.arcsec, "along the shorter axis", lambda item: item.on_sky(item.field.fwhm_minor), Maybe())

    def on_sky(self, width: u.Quantity[u.pix]) -> u.Quantity | None:
        """Return a width in arcsec; None where the scale is not known."""
        return None if self.scale is None else width * self.scale

    def angle_of(self, angle: u.Quantity) -> u.Quantity:
        """Return a position angle: on the sky, or where that is not known from up over left in the image."""
        if self.orientation is not None:
            return self.orientation.position_angle(angle)
        return (angle - 90 * u.deg) % (180 * u.deg)


@dataclass(frozen=True, kw_only=True)
class FrameFiles:
    """What was written of a run, and which files were no frames."""

    log: Annotated[Path | None, "drift log of the series"] = None
    saved: Annotated[Path | None, "equipment file beside which the seeing was kept"] = None
    skipped: Annotated[tuple[Measured, ...], "files that could not be measured"] = ()
