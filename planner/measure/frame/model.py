"""What is asked of test frames, what each of them held, and what is known beside them."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from astropy import units as u
from astropy.time import Time

from planner.errors import PlannerError
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

    rig: Rig | None
    site: Site | None
    band: Filter | None
    target: Target | None  # None: where the header says
    scale: u.Quantity | None  # arcsec/pix, as said; None: the header's, else the rig's
    camera_angle: u.Quantity | None
    mirrored: bool
    exposure: u.Quantity | None
    hour_angle: u.Quantity | None
    guided: bool
    axis_ratio: float
    growth: float

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

    path: Path
    frame: Frame | None = None
    field: StarField | None = None
    error: PlannerError | None = None
    picture: np.ndarray | None = None  # (rows, columns) of bytes, first row first, if it was asked for


@dataclass(frozen=True, kw_only=True)
class FrameReport:
    """One frame and everything that follows from it."""

    path: Path
    frame: Frame
    field: StarField
    scale: u.Quantity | None  # arcsec/pix
    orientation: Orientation | None
    exposure: u.Quantity | None
    start: Time | None
    dec: u.Quantity | None  # apparent where the time is known
    hour_angle: u.Quantity | None  # at the start
    sky: SkyTrail | None
    comparison: Comparison | None
    notes: tuple[str, ...]
    grade: Grade
    light: float = float("nan")  # share of the clearest frames' light; NaN: not known
    light_error: float = float("nan")
    weight: float = float("nan")  # for faint stars, the best frame's is 1
