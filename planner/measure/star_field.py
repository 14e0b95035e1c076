"""What one test frame says about the stars on it: width, elongation, direction, where in the field, and the trail.

Columns are `x`, rows are `y`, the centre of the first pixel is (0, 0). Angles run from +x towards +y, modulo 180 deg:
a star does not tell which way it went. `elongation` is 1 - minor/major of adaptive moments, as in `optics.StarImage`;
`fwhm` is the geometric mean of the half-maximum widths, pixel included, to be compared with `StarImage.fwhm`, and
`fwhm_major`, `fwhm_minor` with its namesakes. Frames come without units; positions and widths are in the camera's
pixels.
"""

from dataclasses import dataclass, field

import numpy as np
from astropy import units as u

from planner.errors import InvalidInputError
from planner.measure.detection import detect, subtract_background
from planner.measure.field_split import Part, Split, split_field
from planner.measure.star_profile import GAUSS_SHAPE, star_shape
from planner.measure.star_selection import Stars, select_stars
from planner.measure.trail_inversion import Optics, TrailTable, trail_table

# A trail is reported when round stars would show as much in fewer than one frame of a hundred.
TRAIL_SIGMA = 2.576
FEWEST_STARS = 5
SMALLEST_SIDE = 16
MAP_SIDE = 3
SHAPE_ERROR = 0.01  # of a trail, from stars whose profile is not the model's (Gaussian to Moffat 2.5: 1.3 %)
SCATTER_PER_NOISE = 2.0  # error of each component of the distortion, times signal to noise, under background noise
NO_ANGLE = float("nan") * u.deg


@dataclass(frozen=True)
class FieldPart:
    """One part of the star shapes, where it is largest in the frame (what is common: at the frame's centre)."""

    elongation: float  # that it gives to a round star of this frame
    trail: u.Quantity[u.pix]  # as long a trail would elongate as much
    angle: u.Quantity[u.deg]  # of the common part; NaN for the others
    significance: float  # sigmas
    present: bool  # whether the frame cannot be described without it


@dataclass(frozen=True)
class FieldParts:
    """The split of the star shapes over the field."""

    common: FieldPart
    radial: FieldPart  # grows with the square of the distance from the centre
    radial_sense: str  # outward, around, or empty
    tilt: FieldPart  # changes as a plane
    rotation: FieldPart
    rotation_angle: u.Quantity[u.deg]  # of the field during the exposure; NaN if it does not turn
    rotation_angle_error: u.Quantity[u.deg]
    rotation_centre: tuple[float, float] | None  # x, y in pixels
    fwhm_slope: u.Quantity[u.pix]  # change of the FWHM from one corner to the opposite one, along its plane
    fwhm_slope_error: u.Quantity[u.pix]
    fwhm_slope_angle: u.Quantity[u.deg]  # direction of growth, 0 to 360
    fwhm_growth: u.Quantity[u.pix]  # from the centre to the corners
    fwhm_growth_error: u.Quantity[u.pix]


@dataclass(frozen=True)
class Trail:
    """How far the stars moved during the exposure, as a uniform straight trail at the frame's centre."""

    length: u.Quantity[u.pix]
    error: u.Quantity[u.pix]
    angle: u.Quantity[u.deg]  # from +x towards +y, 0 to 180
    angle_error: u.Quantity[u.deg]
    significance: float  # sigmas
    significant: bool
    still_fwhm: u.Quantity[u.pix]  # of the same star without the trail


@dataclass(frozen=True)
class StarField:
    """Everything measured on one frame. Arrays (3, 3) have the lowest rows first."""

    shape: tuple[int, int]  # rows, columns
    found: int  # sources that look like stars
    rejected: dict[str, int]
    background: float  # in the frame's unit
    noise: float
    stars: Stars = field(repr=False)
    fwhm: u.Quantity[u.pix]
    fwhm_error: u.Quantity[u.pix]
    fwhm_major: u.Quantity[u.pix]
    fwhm_minor: u.Quantity[u.pix]
    elongation: float  # of the mean star shape, noise taken off
    elongation_error: float
    elongation_significant: bool
    elongation_typical: float  # median of single stars, whatever their direction, noise taken off
    angle: u.Quantity[u.deg]
    angle_error: u.Quantity[u.deg]
    map_fwhm: u.Quantity[u.pix]
    map_elongation: np.ndarray
    map_elongation_error: np.ndarray
    map_angle: u.Quantity[u.deg]
    map_stars: np.ndarray
    parts: FieldParts | None
    trail: Trail | None
    reason: str  # why nothing more can be said; empty otherwise

    @property
    def used(self) -> int:
        """Number of stars measured."""
        return self.stars.count

    @property
    def worst_elongation(self) -> float:
        """Largest elongation of the map, or of the frame where no part of it has enough stars."""
        values = self.map_elongation[np.isfinite(self.map_elongation)]
        return float(values.max()) if values.size else self.elongation


def measure_frame(
    image: np.ndarray, *, saturation: float | None = None, optics: Optics | None = None, pixel_step: int = 1,
    overwrite: bool = False,
) -> StarField:
    """Return what a frame says about its stars.

    Parameters
    ----------
    image : ndarray (rows, columns)
        Any unit; pixels that are not finite hold no measurement.
    saturation : float, optional
        Level at which the frame clips; told from the brightest stars if absent.
    optics : Optics, optional
        What is known of the star's shape besides the seeing, for the trail; the air and the pixel alone if absent.
    pixel_step : int
        Pixels of the camera from one column of the image to the next: 2 for one colour of a mosaic.
    overwrite : bool
        Whether the image, if it is float32, may be used as working space: its background is then subtracted.

    Returns
    -------
    StarField
        With fewer than 5 usable stars `reason` says so and what cannot be told is NaN or None.

    Raises
    ------
    InvalidInputError
        If the image has no two axes of at least 16 pixels, or no finite pixel.

    Notes
    -----
    Against an independent simulator: FWHM 1.6 to 6 pixels, trails to 6 pixels, with and without tilt, coma and
    rotation, elongation within 0.01, direction within 3 deg, trail within 5 % or 0.15 pixel, beside their own errors.
    """
    work, mask = _working_copy(image, overwrite)
    level, noise = subtract_background(work, mask)
    found = detect(work, level, noise, mask)
    selection = select_stars(work, found, saturation)
    stars = selection.stars
    shape = star_shape(work, stars) if stars.count else None
    known = {"shape": (image.shape[0] * pixel_step, image.shape[1] * pixel_step), "found": selection.star_like,
             "rejected": selection.rejected, "background": level, "noise": noise, "stars": _scaled(stars, pixel_step)}
    if stars.count < FEWEST_STARS:
        return _too_few(known, stars, pixel_step)
    return _described(known, stars, shape, optics or Optics(pixel=1 / pixel_step), work.shape, pixel_step)


def _working_copy(image: np.ndarray, overwrite: bool) -> tuple[np.ndarray, np.ndarray | None]:
    """Return the frame as float32 in native order, and where it holds nothing (None if it is whole)."""
    image = np.asarray(image)
    if image.ndim != 2 or min(image.shape) < SMALLEST_SIDE:
        raise InvalidInputError("image", f"shape {image.shape}", f"must have two axes of {SMALLEST_SIDE} pixels or more",
                                "Give a frame with rows and columns.")
    work = np.array(image, dtype=np.float32, order="C", copy=None if overwrite else True)
    if np.isfinite(work.sum(dtype=np.float64)):
        return work, None
    mask = ~np.isfinite(work)
    if mask.all():
        raise InvalidInputError("image", f"shape {image.shape}", "holds no finite pixel", "Check how it was written.")
    work[mask] = 0
    return work, mask


def _scaled(stars: Stars, step: int) -> Stars:
    """Return the stars in the camera's pixels."""
    if step == 1:
        return stars
    return Stars(stars.x * step, stars.y * step, stars.flux, stars.signal_to_noise, stars.xx * step**2,
                 stars.xy * step**2, stars.yy * step**2)


def _too_few(known: dict, stars: Stars, step: int) -> StarField:
    """Return what little a frame with too few stars says."""
    nothing = np.full((MAP_SIDE, MAP_SIDE), np.nan)
    pix, nan = step * u.pix, float("nan")
    fwhm = GAUSS_SHAPE * float(np.median(stars.size)) * pix if stars.count else nan * u.pix
    count = {0: "no usable star", 1: "one usable star"}.get(stars.count, f"{stars.count} usable stars")
    return StarField(
        **known, fwhm=fwhm, fwhm_error=nan * u.pix, fwhm_major=nan * u.pix, fwhm_minor=nan * u.pix, elongation=nan,
        elongation_error=nan, elongation_significant=False, elongation_typical=nan, angle=NO_ANGLE,
        angle_error=NO_ANGLE, map_fwhm=nothing * u.pix, map_elongation=nothing, map_elongation_error=nothing,
        map_angle=nothing * u.deg, map_stars=np.zeros((MAP_SIDE, MAP_SIDE), dtype=int), parts=None, trail=None,
        reason=f"{count}, {FEWEST_STARS} are needed to tell a direction")


@dataclass(frozen=True)
class _Mean:
    """Robust mean of complex distortions."""

    value: complex
    error: float  # of each component
    scatter: float  # of single stars, each component

    @property
    def size(self) -> float:
        """Size with the noise taken off: the error across the direction lengthens it."""
        return float(np.sqrt(max(abs(self.value) ** 2 - self.error**2, 0.0)))

    @property
    def angle(self) -> u.Quantity:
        """Half the phase."""
        return np.degrees(np.angle(self.value) / 2) % 180 * u.deg

    @property
    def angle_error(self) -> u.Quantity:
        """At most that of a direction not known at all."""
        return min(np.degrees(self.error / max(2 * abs(self.value), 1e-12)), 52.0) * u.deg

    @property
    def significant(self) -> bool:
        """Whether round stars would show less in 99 of 100 frames (a Rayleigh distribution)."""
        return abs(self.value) > self.error * np.sqrt(-2 * np.log(0.01))


def _robust_mean(values: np.ndarray, noise: np.ndarray) -> _Mean:
    """Return the mean of complex values (n,) by Huber's rule, each component with its noise (n,)."""
    mean = complex(np.median(values.real), np.median(values.imag))
    for _ in range(20):
        away = np.abs(values - mean)
        scatter = max(float(np.median(away)) / 1.1774, 1e-9)
        total = np.sqrt(noise**2 + max(scatter**2 - float(np.median(noise)) ** 2, 0))
        weight = np.minimum(1, 2.1 * total / np.maximum(away, 1e-12)) / total**2
        new = complex(np.sum(weight * values) / np.sum(weight))
        if abs(new - mean) < 1e-9:
            break
        mean = new
    n = values.size
    error = np.sqrt(np.sum(weight**2 * away**2) / 2) / np.sum(weight) * np.sqrt(n / max(n - 1, 1))
    # Few stars may agree by chance: not below what their noise alone gives, by a half.
    return _Mean(mean, float(max(error, 0.5 / np.sqrt(np.sum(1 / noise**2)))), scatter)


def _elongation(distortion: float) -> float:
    """Return 1 - b/a of a distortion (a2 - b2)/(a2 + b2)."""
    held = min(max(float(distortion), 0.0), 1 - 1e-9)
    return 1 - float(np.sqrt((1 - held) / (1 + held)))


def _elongation_error(distortion: float, error: float) -> float:
    """Return the error of 1 - b/a: its slope is (1 - e) / (1 - d^2)."""
    held = min(max(float(distortion), 0.0), 0.99)
    return error * (1 - _elongation(held)) / (1 - held**2)


def _described(known: dict, stars: Stars, shape: tuple[float, float] | None, optics: Optics, frame: tuple[int, int],
               step: int) -> StarField:
    """Return the full description of a frame with enough stars."""
    noise = np.hypot(SCATTER_PER_NOISE / stars.signal_to_noise, 1e-3)
    distortion = stars.distortion
    mean = _robust_mean(distortion, noise)
    sigma = float(np.median(stars.size))
    smaller = sigma**2 * np.sqrt((1 - mean.size) / (1 + mean.size))
    table = trail_table(smaller, mean.size, optics)
    factor = GAUSS_SHAPE if shape is None else np.sqrt(shape[0] * shape[1])
    stretch = 1.0 if shape is None else np.sqrt(factor / table.shape_of(float(table.length_of(np.array(mean.size)))))
    ratio = np.sqrt((1 + mean.size) / (1 - mean.size)) ** 0.5
    along, across = (factor, factor) if shape is None else shape
    scatter = 1.2533 * 1.4826 * np.median(np.abs(stars.size - sigma)) / np.sqrt(stars.count)
    maps = _maps(stars, noise, frame, factor * step)
    parts, trail = _parts_and_trail(stars, noise, table, stretch, frame, step, factor, optics)
    typical = max(float(np.median(np.abs(distortion) ** 2 - 2 * noise**2)), 0.0) ** 0.5
    return StarField(
        **known, fwhm=factor * sigma * step * u.pix, fwhm_error=factor * scatter * step * u.pix,
        fwhm_major=along * sigma * ratio * step * u.pix, fwhm_minor=across * sigma / ratio * step * u.pix,
        elongation=_elongation(mean.size), elongation_error=_elongation_error(mean.size, mean.error),
        elongation_significant=bool(mean.significant), elongation_typical=_elongation(typical), angle=mean.angle,
        angle_error=mean.angle_error, **maps, parts=parts, trail=trail, reason="")


def _maps(stars: Stars, noise: np.ndarray, frame: tuple[int, int], factor: float) -> dict:
    """Return FWHM, elongation and direction in nine parts of the frame; NaN where there are fewer than 3 stars."""
    row = np.clip(stars.y * MAP_SIDE // frame[0], 0, MAP_SIDE - 1).astype(int)
    column = np.clip(stars.x * MAP_SIDE // frame[1], 0, MAP_SIDE - 1).astype(int)
    fwhm, elongation, error, angle = (np.full((MAP_SIDE, MAP_SIDE), np.nan) for _ in range(4))
    count = np.zeros((MAP_SIDE, MAP_SIDE), dtype=int)
    for place in np.ndindex(MAP_SIDE, MAP_SIDE):
        inside = (row == place[0]) & (column == place[1])
        count[place] = inside.sum()
        if count[place] < 3:
            continue
        mean = _robust_mean(stars.distortion[inside], noise[inside])
        fwhm[place] = factor * np.median(stars.size[inside])
        elongation[place], angle[place] = _elongation(mean.size), mean.angle.value
        error[place] = _elongation_error(mean.size, mean.error)
    return {"map_fwhm": fwhm * u.pix, "map_elongation": elongation, "map_elongation_error": error,
            "map_angle": angle * u.deg, "map_stars": count}


def _parts_and_trail(stars: Stars, noise: np.ndarray, table: TrailTable, stretch: float, frame: tuple[int, int],
                     step: int, factor: float, optics: Optics) -> tuple[FieldParts, Trail]:
    """Return the split over the field and the trail at its centre."""
    middle = np.array([(frame[1] - 1) / 2, (frame[0] - 1) / 2])
    diagonal = float(np.hypot(*(middle + 0.5)))
    position = (stars.x - middle[0] + 1j * (stars.y - middle[1])) / diagonal
    size = np.abs(stars.distortion)
    square = (table.length_of(size) * stretch) ** 2 * np.exp(1j * np.angle(stars.distortion))
    slope = np.gradient(table.length**2, (table.larger - table.smaller) / (table.larger + table.smaller))
    error = noise * np.interp(size, table.distortion_of(table.length), slope) * stretch**2
    extent = ((middle[0] + 0.5) / diagonal, (middle[1] + 0.5) / diagonal)
    split = split_field(position, square, error, extent)
    plane = _width_plane(position, stars.size * factor, extent)
    parts = _field_parts(split, table, stretch, step, diagonal, middle, plane)
    return parts, _trail(split.common, table, stretch, step, factor)


def _field_parts(split: Split, table: TrailTable, stretch: float, step: int, diagonal: float, middle: np.ndarray,
                 plane: dict) -> FieldParts:
    def part(which: Part, directed: bool = False) -> FieldPart:
        length = float(np.sqrt(abs(which.square)))
        angle = np.degrees(np.angle(which.square) / 2) % 180 * u.deg if directed else NO_ANGLE
        return FieldPart(_elongation(float(table.distortion_of(np.array(length / stretch)))), length * step * u.pix,
                         angle, which.significance, which.present)

    common = part(split.common, directed=True)
    centre: tuple[float, float] | None = None
    turn = turn_error = float("nan")
    if split.centre is not None:
        place = (middle + np.array(split.centre) * diagonal) * step
        centre = float(place[0]), float(place[1])
        turn, turn_error = split.turn / diagonal, split.turn_error / diagonal
    radial = part(split.radial)
    circling = (split.radial.square * np.conj(complex(*(middle + 0.5))) ** 2).real < 0
    return FieldParts(
        common=FieldPart(common.elongation, common.trail, common.angle, common.significance,
                         common.significance > TRAIL_SIGMA),
        radial=radial, radial_sense=("around" if circling else "outward") if radial.present else "",
        tilt=part(split.tilt), rotation=part(split.rotation), rotation_angle=np.degrees(turn) * u.deg,
        rotation_angle_error=np.degrees(turn_error) * u.deg, rotation_centre=centre,
        **{name: value * step if value.unit == u.pix else value for name, value in plane.items()})


def _width_plane(position: np.ndarray, width: np.ndarray, extent: tuple[float, float]) -> dict:
    """Return how the FWHM changes as a plane and from the centre outwards, in pixels of the image."""
    if position.size < 12:
        return {"fwhm_slope": np.nan * u.pix, "fwhm_slope_error": np.nan * u.pix, "fwhm_slope_angle": NO_ANGLE,
                "fwhm_growth": np.nan * u.pix, "fwhm_growth_error": np.nan * u.pix}
    terms = np.column_stack([np.ones(position.size), position.real, position.imag, np.abs(position) ** 2])
    weight = np.ones(position.size)
    for _ in range(20):
        weighted = terms * weight[:, None]
        covariance = np.linalg.pinv(weighted.T @ terms)
        values = covariance @ (weighted.T @ width)
        away = np.abs(width - terms @ values)
        spread = max(1.4826 * float(np.median(away)), 1e-9)
        weight = np.minimum(1, 1.5 * spread / np.maximum(away, 1e-12))
    error = spread * np.sqrt(np.diag(covariance))
    # Twice the plane's value on the corner it grows towards: from one corner to the opposite one.
    slope = 2 * (abs(values[1]) * extent[0] + abs(values[2]) * extent[1])
    return {"fwhm_slope": slope * u.pix, "fwhm_slope_error": 2 * np.hypot(*(error[1:3] * extent)) * u.pix,
            "fwhm_slope_angle": np.degrees(np.arctan2(values[2], values[1])) % 360 * u.deg,
            "fwhm_growth": values[3] * u.pix, "fwhm_growth_error": error[3] * u.pix}


def _trail(common: Part, table: TrailTable, stretch: float, step: int, factor: float) -> Trail:
    """Return the trail behind what is common, noise taken off."""
    square = np.sqrt(max(abs(common.square) ** 2 - common.error**2, 0.0))
    length = float(np.sqrt(square))
    error = float(common.error / (2 * length)) if length > np.sqrt(common.error) / 2 else float(np.sqrt(common.error))
    angle_error = min(np.degrees(common.error / max(2 * abs(common.square), 1e-12)), 52.0)
    still = factor * float((table.larger[0] * table.smaller[0]) ** 0.25)
    return Trail(
        length=length * step * u.pix, error=np.hypot(error, SHAPE_ERROR * length) * step * u.pix,
        angle=np.degrees(np.angle(common.square) / 2) % 180 * u.deg, angle_error=angle_error * u.deg,
        significance=common.significance, significant=bool(common.significance > TRAIL_SIGMA),
        still_fwhm=still * step * u.pix)
