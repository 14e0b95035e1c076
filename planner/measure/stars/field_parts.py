"""The parts of a frame's star shapes and the trail behind what they share, in the camera's pixels.

Angles run from +x (columns) towards +y (rows), modulo 180 deg where a star does not tell which way it went.
"""

from dataclasses import dataclass, replace
from typing import Annotated

import numpy as np
from astropy import units as u

from planner.fields import Key, Spread, told
from planner.measure.robust import LIMIT, huber_fit
from planner.measure.stars.field_split import Part, Split, split_field
from planner.measure.stars.mean_shape import UNKNOWN_DIRECTION, elongation_of
from planner.measure.stars.selection import Stars
from planner.measure.stars.trail_inversion import TrailTable

# A trail is reported when round stars would show as much in fewer than one frame of a hundred.
TRAIL_SIGMA = 2.576
SHAPE_ERROR = 0.01  # of a trail, from stars whose profile is not the model's (Gaussian to Moffat 2.5: 1.3 %)
FEWEST_FOR_PLANE = 12
FAR = 4.0  # errors from which a tilt is told (`frame.field_shape`)
NO_ANGLE = float("nan") * u.deg


@dataclass(frozen=True)
class FieldPart:
    """One part of the star shapes, where it is largest in the frame (what is common: at the frame's centre)."""

    elongation: Annotated[float, "that it gives to a round star of this frame"]
    trail: Annotated[u.Quantity[u.pix], "as long a trail would elongate as much"]
    angle: u.Quantity[u.deg]  # of the common part; NaN for the others
    significance: Annotated[float, "of the part, in standard errors", Key("significance_sigma")]
    present: Annotated[bool, "whether the frame cannot be described without it"]


@dataclass(frozen=True)
class FieldParts:
    """The split of the star shapes over the field."""

    common: Annotated[FieldPart, Spread("common.")]
    radial: Annotated[FieldPart, Spread("radial.")]  # grows with the square of the distance from the centre
    radial_sense: Annotated[str, "outward, around, or empty", Key("radial.sense")]
    tilt: Annotated[FieldPart, Spread("tilt.")]  # changes as a plane
    rotation: Annotated[FieldPart, Spread("rotation.")]
    rotation_angle: Annotated[u.Quantity[u.deg], "turn of the field during the exposure", Key("rotation.angle_deg")]
    rotation_angle_error: Annotated[u.Quantity[u.deg], "of the turn", Key("rotation.angle_error_deg")]
    rotation_centre: Annotated[tuple[float, float] | None, "column and row about which it turns",
                               Key("rotation.centre_pixels")]
    fwhm_slope: Annotated[u.Quantity[u.pix], "change of the FWHM from one corner to the opposite one",
                          Key("tilt.fwhm_slope_pixels")]
    fwhm_slope_error: Annotated[u.Quantity[u.pix], "of that change", Key("tilt.fwhm_slope_error_pixels")]
    fwhm_slope_angle: Annotated[u.Quantity[u.deg], "direction of growth, 0 to 360",
                                Key("tilt.fwhm_slope_angle_from_columns_deg")]
    fwhm_fold: Annotated[u.Quantity[u.pix], "more at two opposite sides than across, as far out as corners",
                         Key("tilt.fwhm_fold_pixels")]
    fwhm_fold_error: Annotated[u.Quantity[u.pix], "of that", Key("tilt.fwhm_fold_error_pixels")]
    fwhm_fold_angle: Annotated[u.Quantity[u.deg], "of those sides, 0 to 180",
                               Key("tilt.fwhm_fold_angle_from_columns_deg")]
    fwhm_growth: Annotated[u.Quantity[u.pix], "from the centre to the corners", Key("radial.fwhm_growth_pixels")]
    fwhm_growth_error: Annotated[u.Quantity[u.pix], "of that growth", Key("radial.fwhm_growth_error_pixels")]
    corner_elongation: np.ndarray  # (4,) of all parts present, at the very corners: low rows first, then by columns
    direction = told(u.deg, "of the elongation, from columns towards rows", lambda parts: parts.common.angle,
                     key="common.angle_from_columns_deg")

    @property
    def varies(self) -> bool:
        """Whether star shapes differ over the field."""
        return self.radial.present or self.tilt.present or self.rotation.present


@dataclass(frozen=True)
class Trail:
    """How far the stars moved during the exposure, as a uniform straight trail at the frame's centre."""

    length: Annotated[u.Quantity[u.pix], "of the trail"]
    error: Annotated[u.Quantity[u.pix], "of the length"]
    angle: Annotated[u.Quantity[u.deg], "from columns towards rows, 0 to 180", Key("angle_from_columns_deg")]
    angle_error: Annotated[u.Quantity[u.deg], "of the angle"]
    significance: Annotated[float, "in standard errors", Key("significance_sigma")]
    significant: Annotated[bool, "whether there is a trail"]
    upper_limit: Annotated[u.Quantity[u.pix], "longest trail that the frame allows, 2 standard errors"]
    still_fwhm: Annotated[u.Quantity[u.pix], "of the same star without the trail"]


@dataclass(frozen=True)
class Gauge:
    """What turns the moments of this frame's stars into trails and half-maximum widths."""

    table: TrailTable
    stretch: float  # of the table's trails, for stars whose profile is not the model's
    factor: float  # half-maximum width over moment width
    shape: float  # that over the model's
    step: int  # pixels of the camera per pixel of the image

    def squares(self, distortion: np.ndarray, error: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return squared trails (n,) complex and the error of each component, in pixels of the image."""
        size = np.abs(distortion)
        lengths = self.table.length_of(size) * self.stretch
        known = self.table.distortion_of(self.table.length)
        slope = np.interp(size, known, np.gradient(self.table.length**2, known))
        return lengths**2 * np.exp(1j * np.angle(distortion)), error * slope * self.stretch**2

    def elongation(self, square: complex) -> float:
        """Return the elongation that a squared trail gives to a round star."""
        length = np.sqrt(abs(square)) / self.stretch
        return elongation_of(float(self.table.distortion_of(length)))

    def still_width(self) -> float:
        """Return the FWHM of the star without trail, in pixels of the image."""
        return self.shape * float(self.table.width[0])

    def growth(self, lengths: np.ndarray) -> np.ndarray:
        """Return by how much trails of these lengths widen the star's moments, geometric mean of both axes."""
        size = (self.table.larger * self.table.smaller) ** 0.25
        return np.interp(lengths / self.stretch, self.table.length, size) / size[0]


def parts_and_trail(stars: Stars, noise: np.ndarray, frame: tuple[int, int],
                    gauge: Gauge) -> tuple[FieldParts, Trail, np.ndarray]:
    """Return the split of star shapes over a frame, the trail at its centre, and the trail the split gives each star.

    `stars`: in pixels of the image. `noise` (n,): of each component of the distortion. `frame`: rows and columns of
    the image.
    """
    half = np.array([frame[1], frame[0]]) / 2
    diagonal = float(np.hypot(*half))
    position = (stars.x + 0.5 - half[0] + 1j * (stars.y + 0.5 - half[1])) / diagonal
    extent = (float(half[0] / diagonal), float(half[1] / diagonal))
    square, error = gauge.squares(stars.distortion, noise)
    split = split_field(position, square, error, extent)
    width = _width_plane(position, stars.size * gauge.factor, extent)
    lengths = np.sqrt(np.abs(square - split.residual))
    return _field_parts(split, gauge, half, width), _trail(split.common, gauge), lengths


def _field_parts(split: Split, gauge: Gauge, half: np.ndarray, width: "_WidthPlane") -> FieldParts:
    """Return the parts with units; `half` (2,) is half of the frame's columns and rows."""
    diagonal, pix = float(np.hypot(*half)), gauge.step * u.pix
    centre = None
    if split.centre is not None:
        place = (half - 0.5 + np.array(split.centre) * diagonal) * gauge.step
        centre = float(place[0]), float(place[1])
    radial, tilt, rotation = (_part(part, gauge) for part in (split.radial, split.tilt, split.rotation))
    circling = (split.radial.square * np.conj(complex(*half)) ** 2).real < 0
    common = replace(_part(split.common, gauge), present=split.common.significance > TRAIL_SIGMA,
                     angle=_direction(split.common.square))
    return FieldParts(
        common=common, radial=radial, radial_sense="" if not radial.present else "around" if circling else "outward",
        tilt=tilt, rotation=rotation, rotation_centre=centre,
        rotation_angle=np.degrees(split.turn / diagonal if centre else np.nan) * u.deg,
        rotation_angle_error=np.degrees(split.turn_error / diagonal) * u.deg,
        fwhm_slope=width.slope * pix, fwhm_slope_error=width.slope_error * pix,
        fwhm_slope_angle=width.angle_deg * u.deg, fwhm_fold=width.fold * pix, fwhm_fold_error=width.fold_error * pix,
        fwhm_fold_angle=width.fold_angle_deg * u.deg, fwhm_growth=width.growth * pix,
        fwhm_growth_error=width.growth_error * pix,
        corner_elongation=np.array([gauge.elongation(square) for square in split.corners]))


def _part(part: Part, gauge: Gauge) -> FieldPart:
    return FieldPart(elongation=gauge.elongation(part.square), trail=np.sqrt(abs(part.square)) * gauge.step * u.pix,
                     angle=NO_ANGLE, significance=part.significance, present=part.present)


def _direction(square: complex) -> u.Quantity:
    return np.degrees(np.angle(square) / 2) % 180 * u.deg


@dataclass(frozen=True)
class _WidthPlane:
    """How the FWHM changes over the frame, in pixels of the image."""

    slope: float = np.nan  # from corner to opposite corner
    slope_error: float = np.nan
    angle_deg: float = np.nan  # towards which it grows
    fold: float = np.nan  # more at two opposite sides than across
    fold_error: float = np.nan
    fold_angle_deg: float = np.nan
    growth: float = np.nan  # from the centre to the corners
    growth_error: float = np.nan


def _width_plane(position: np.ndarray, width: np.ndarray, extent: tuple[float, float]) -> _WidthPlane:
    """Return plane, fold and growth of the FWHM by Huber's rule; NaN for too few stars.

    A sensor that leans is out of focus by a plane, and its stars are wider by a plane where the focus lies to one side,
    by a valley where it lies in the middle.
    """
    if position.size < FEWEST_FOR_PLANE:
        return _WidthPlane()
    square = position**2
    terms = np.column_stack([np.ones(position.size), position.real, position.imag, np.abs(square), square.real,
                             square.imag])
    values, _, spread = huber_fit(terms, width, least_spread=1e-9, rounds=20)
    error = _errors(terms, width - terms @ values, spread)
    return _WidthPlane(
        slope=2 * (abs(values[1]) * extent[0] + abs(values[2]) * extent[1]),
        slope_error=2 * float(np.hypot(*(error[1:3] * extent))),
        angle_deg=float(np.degrees(np.arctan2(values[2], values[1])) % 360), fold=2 * float(np.hypot(*values[4:])),
        fold_error=float(np.hypot(*error[4:]) * np.sqrt(2)),
        fold_angle_deg=float(np.degrees(np.arctan2(values[5], values[4])) / 2 % 180), growth=float(values[3]),
        growth_error=float(error[3]))


def _errors(terms: np.ndarray, misfit: np.ndarray, spread: float) -> np.ndarray:
    """Return the errors (k,) of numbers fitted to terms (n, k) by Huber's rule, from the influence of single values.

    Wider by what few values leave unknown of their own scatter: as seldom beyond four errors as a normal value.
    """
    from scipy.stats import norm, t

    count, numbers = terms.shape
    held = LIMIT * spread
    inside = float(np.mean(np.abs(misfit) < held))
    variance = np.sum(np.clip(misfit, -held, held) ** 2) / (count - numbers) / inside**2
    growth = 1 + numbers / count * (1 - inside) / inside  # Huber 1981, Robust Statistics, section 7.6
    student = float(t.isf(norm.sf(FAR), count - numbers)) / FAR
    return np.asarray(student * growth * np.sqrt(variance * np.diag(np.linalg.pinv(terms.T @ terms))))


def _trail(common: Part, gauge: Gauge) -> Trail:
    """Return the trail behind what is common, noise taken off."""
    size = abs(common.square)
    length = float(max(size**2 - common.error**2, 0.0) ** 0.25)
    by_noise = common.error / np.sqrt(4 * length**2 + common.error)  # error/(2 L), or its root where L is none
    pix = gauge.step * u.pix
    return Trail(
        length=length * pix, error=float(np.hypot(by_noise, SHAPE_ERROR * length)) * pix,
        angle=_direction(common.square),
        angle_error=min(np.degrees(common.error / max(2 * size, 1e-12)), UNKNOWN_DIRECTION) * u.deg,
        significance=common.significance, significant=bool(common.significance > TRAIL_SIGMA),
        upper_limit=float(np.sqrt(size + 2 * common.error)) * pix, still_fwhm=gauge.still_width() * pix)
