"""What one test frame says about the stars on it: width, elongation, direction, where in the field, and the trail.

Columns are `x`, rows are `y`, the centre of the first pixel is (0, 0). Angles run from +x towards +y, modulo 180 deg:
a star does not tell which way it went. `elongation` is 1 - minor/major of adaptive moments, as in `optics.StarImage`;
`fwhm` is the geometric mean of the half-maximum widths, pixel included, to be compared with `StarImage.fwhm`, and
`fwhm_major`, `fwhm_minor` with its namesakes. Frames come without units; positions and widths are in the camera's
pixels.
"""

from dataclasses import dataclass, field, replace
from typing import Annotated, Any

import numpy as np
from astropy import units as u

from planner.constants import FWHM_PER_SIGMA
from planner.errors import InvalidInputError
from planner.fields import Key, Many, told
from planner.measure.robust import MEDIAN_ERROR
from planner.measure.stars.detection import BOX, Detections, detect, subtract_background
from planner.measure.stars.double_stars import double_step
from planner.measure.stars.field_parts import NO_ANGLE, FieldParts, Gauge, Trail, parts_and_trail
from planner.measure.stars.large_frame import LARGE, LargeFrame
from planner.measure.stars.mean_shape import MAP_SIDE, elongation_error, elongation_of, robust_mean, shape_maps
from planner.measure.stars.mean_star import MeanStar, mean_star
from planner.measure.stars.plane import Counts, Image
from planner.measure.stars.selection import Selection, Stars, select_stars
from planner.measure.stars.sharp_stars import FEWEST_FOR_PSF, SHARP, sharp_stars
from planner.measure.stars.star_pixels import Plane
from planner.measure.stars.trail_inversion import Optics, trail_table
from planner.measure.stars.whole_light import other_colour, whole_light

FEWEST_STARS = 5
# Where so large a share of the sources is blended, a background in boxes of this side [pix] may show more stars: so
# many times more, if a box is so many of their sigmas wide.
MOST_HANGING, FINER_BOXES, GAINED, WIDTHS = 0.2, (64, 32), 1.5, 8.0
UNIFORM = 12**0.5  # length of a uniform trail over its rms
SMEARED = 0.6  # elongation of the typical source: no noise draws round stars out so far
ROUNDING = 1e-6  # of float32
REFINEMENTS = 2  # of the still star's width, where trails differ over the field
SMALLEST_SIDE = 16
SCATTER_PER_NOISE = 2.0  # error of each component of the distortion, times signal to noise, under background noise
LEAST_NOISE = 1e-3  # of a component, where a bright star's pixels are all but noiseless
UNSHAPED = 0.03  # error of a FWHM from moments alone, relative: Gaussian to Moffat 2.5


@dataclass(frozen=True)
class StarField:
    """Everything measured on one frame. Arrays (3, 3) have the lowest rows first."""

    shape: tuple[int, int]  # rows, columns
    found: Annotated[int, "sources that look like stars", Key("stars")]
    rejected: Annotated[dict[str, int], "sources that are no single stars, by reason"]
    background: Annotated[float, "in the frame's unit"]
    noise: Annotated[float, "of one pixel, in the frame's unit"]
    stars: Stars = field(repr=False)
    double: u.Quantity[u.pix]  # from one to the other of every star; 0 for single ones
    ring: u.Quantity[u.pix]  # diameter of the rings that stars out of focus are; 0 for stars
    fwhm: Annotated[u.Quantity[u.pix], "of the mean star, pixel included"]
    fwhm_error: Annotated[u.Quantity[u.pix], "of that width"]
    fwhm_major: Annotated[u.Quantity[u.pix], "along the longer axis"]
    fwhm_minor: Annotated[u.Quantity[u.pix], "along the shorter axis"]
    elongation: Annotated[float, "of the mean star, 1 - minor/major, noise taken off"]
    elongation_error: Annotated[float, "of the elongation"]
    elongation_significant: Annotated[bool, "whether the stars are not round"]
    elongation_typical: Annotated[float, "median of single stars, whatever their direction"]
    angle: Annotated[u.Quantity[u.deg], "direction of the elongation from columns towards rows",
                     Key("angle_from_columns_deg")]
    angle_error: Annotated[u.Quantity[u.deg], "of the direction", Key("position_angle_error_deg")]
    map_fwhm: Annotated[u.Quantity[u.pix], "by places in the frame, low rows first", Key("map.fwhm_pixels"), Many()]
    map_elongation: Annotated[np.ndarray, "by places", Key("map.elongation")]
    map_elongation_error: Annotated[np.ndarray, "by places", Key("map.elongation_error")]
    map_angle: u.Quantity[u.deg]
    map_stars: Annotated[np.ndarray, "stars at each place", Key("map.stars")]
    parts: Annotated[FieldParts | None, "what the star shapes are made of; null for too few stars"]
    trail: Annotated[Trail | None, "as a uniform straight trail at the frame's centre; null where it cannot be told"]
    reason: str  # why nothing more can be said; empty otherwise
    narrow: bool = False  # sharper than the pixels can tell
    notes: tuple[str, ...] = ()  # what its pixels contradict
    light_error: float = float("nan")  # of the scale of all the stars' light, relative
    columns = told(int, "of the frame", lambda field: field.shape[1])
    rows = told(int, "of the frame", lambda field: field.shape[0])
    ring_size = told(u.pix, "diameter of the rings that stars out of focus are; null for stars",
                     lambda field: field.ring if field.ring > 0 else None, key="ring_pixels")
    double_size = told(u.pix, "from one to the other of every star; null for single ones",
                       lambda field: field.double if field.double > 0 else None, key="double_pixels")

    @property
    def used(self) -> Annotated[int, "stars measured", Key("stars_used")]:
        """Number of stars measured."""
        return self.stars.count

    @property
    def worst_elongation(self) -> Annotated[float, "largest in the field", Key("elongation_worst")]:
        """Largest elongation in the field: of the map, or at a corner where star shapes differ over the field."""
        values = [self.elongation, *self.map_elongation[np.isfinite(self.map_elongation)]]
        if self.parts is not None and self.parts.varies:
            values += list(self.parts.corner_elongation)
        return float(max(values))


def measure_frame(
    image: np.ndarray | Counts, *, saturation: float | None = None, optics: Optics | None = None, pixel_step: int = 1,
    second: tuple[np.ndarray | Counts, int, int] | None = None, overwrite: bool = False,
) -> StarField:
    """Return what a frame says about its stars.

    Parameters
    ----------
    image : ndarray (rows, columns) or Counts
        Any unit; pixels that are not finite hold no measurement. Large ones stay in their file.
    saturation : float, optional
        Level at which the frame clips; told from the brightest stars if absent.
    optics : Optics, optional
        What is known of the star's shape besides the seeing, for the trail, in pixels of the image; the air and the
        pixel alone if absent. Its `pixel` is set from `pixel_step`.
    pixel_step : int
        Pixels of the camera from one column of the image to the next: 2 for one colour of a mosaic.
    second : tuple of ndarray, int and int, optional
        The other pixels of the same colour of a mosaic, of the image's shape, and their columns and rows after the
        image's, in pixels of the camera.
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
    work, mask, level, noise, found, selection = _found(image, overwrite, saturation, BOX)
    if found.count == 0 and np.ptp(np.asarray(work)) <= ROUNDING * abs(level):
        noise = 0.0  # all pixels alike
    box = BOX
    for side in FINER_BOXES if _hangs_together(selection, found) else ():
        finer = _found(image if isinstance(image, Counts) else np.array(work), True, saturation, side)
        stars = finer[-1].stars.count
        if stars > GAINED * selection.stars.count and stars >= FEWEST_STARS and finer[-1].sigma * WIDTHS < side:
            (work, mask, _, noise, found, selection), box = finer, side
    others = np.column_stack([found.x, found.y]) * pixel_step
    planes: list[Plane] = [(work, 0, 0)]
    notes: tuple[str, ...] = ()
    if second is not None:
        other = _flat(second[0], False, box)[0], second[1], second[2]
        ratio = other_colour(planes[0], other, pixel_step, _scaled(selection.stars, pixel_step), noise, others)
        if ratio == 1:
            planes.append(other)
        else:
            notes = (f"The mosaic has another order than was said: its two kinds of green pixels record stars "
                     f"{ratio:.2f} to 1. One kind is measured; name the order with --mosaic.",)
    size = image.shape[0] * pixel_step, image.shape[1] * pixel_step
    lens, frame, reason, narrow = optics or Optics(), size, "", False
    along, drawn_out = found.usual_shape
    if _is_sharp(selection) and not drawn_out > SMEARED:
        if len(planes) > 1:
            found = detect(np.mean([np.asarray(plane[0]) for plane in planes], axis=0), level, noise / 2**0.5, mask)
        sharp = sharp_stars(planes, pixel_step, found, saturation, size)
        selection, mean, reason, narrow = sharp.selection, sharp.mean, sharp.reason, sharp.narrow
        cutoff = None if lens.cutoff_per_pixel is None else lens.cutoff_per_pixel / pixel_step
        lens = replace(lens, cutoff_per_pixel=cutoff, blur_sigma=lens.blur_sigma * pixel_step)
        scaled = selection.stars
    else:
        scaled = _scaled(selection.stars, pixel_step)
        mean = mean_star(planes, pixel_step, scaled, noise, others, size) if noise > 0 else None
        frame, lens = (work.shape[0], work.shape[1]), replace(lens, pixel=1 / pixel_step)
    whole, light_error = whole_light(planes, pixel_step, scaled, noise, others)
    scaled = replace(scaled, flux=scaled.flux * (whole if whole > 0 else 1))
    apart = double_step(found, planes, pixel_step, scaled)
    ring = mean.ring if mean is not None and not apart else 0.0
    known = {"shape": size, "found": selection.star_like, "rejected": selection.rejected, "background": level,
             "noise": noise, "stars": scaled, "double": apart * u.pix, "ring": ring * u.pix, "narrow": narrow,
             "notes": notes, "light_error": float("nan") if apart else light_error}
    if selection.stars.count < FEWEST_STARS:
        if drawn_out > SMEARED:
            reason = f"most sources are drawn out to {UNIFORM * along * pixel_step:.0f} px or more: trailed"
        return _too_few(known, scaled, reason, drawn_out)
    return _described(known, selection.stars, mean, lens, frame)


def _found(image: np.ndarray | Counts, overwrite: bool, saturation: float | None, box: int
           ) -> tuple[Image, np.ndarray | None, float, float, Detections, Selection]:
    """Return the frame without its background, as `_flat` does, its sources, and which of them are stars."""
    work, mask, level, noise = _flat(image, overwrite, box)
    found = work.detections() if isinstance(work, LargeFrame) else detect(np.asarray(work), level, noise, mask)
    return work, mask, level, noise, found, select_stars(work, found, saturation)


def _hangs_together(selection: Selection, found: Detections) -> bool:
    """Return whether most sources hang together and few or next to none are stars: what a nebula does, or a crowd."""
    hanging, stars = selection.rejected.get("blended", 0), selection.stars.count
    return stars < FEWEST_STARS <= found.count or (
        hanging > MOST_HANGING * found.count and hanging > max(2 * stars, FEWEST_STARS))


def _is_sharp(selection: Selection) -> bool:
    """Return whether the stars are too sharp for moments: they are narrow, or most sources look like single pixels."""
    pixel_like = sum(selection.rejected.get(word, 0) for word in ("hot pixel", "cosmic ray", "not a star"))
    few = selection.stars.count < FEWEST_STARS and pixel_like >= FEWEST_FOR_PSF
    return few or (0 < selection.sigma < SHARP and selection.star_like > 0)


def _flat(image: np.ndarray | Counts, overwrite: bool, box: int = BOX) -> tuple[Image, np.ndarray | None, float, float]:
    """Return the frame without its background, where it holds nothing, the background's level and the noise."""
    if isinstance(image, Counts) and image.whole and image.raw.size >= LARGE:
        large = LargeFrame(image, box)
        return large, None, large.level, large.noise
    work, mask = _working_copy(np.asarray(image), overwrite or isinstance(image, Counts))
    return work, mask, *subtract_background(work, mask, box)


def _working_copy(image: np.ndarray, overwrite: bool) -> tuple[np.ndarray, np.ndarray | None]:
    """Return the frame as float32 in native order, and where it holds nothing (None if it is whole)."""
    if image.ndim != 2 or min(image.shape) < SMALLEST_SIDE:
        raise InvalidInputError("image", f"shape {image.shape}", f"must have two axes of at least {SMALLEST_SIDE}",
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
    if step == 1:
        return stars
    return Stars(stars.x * step, stars.y * step, stars.flux, stars.signal_to_noise, stars.xx * step**2,
                 stars.xy * step**2, stars.yy * step**2)


def _too_few(known: dict[str, Any], stars: Stars, reason: str, drawn_out: float) -> StarField:
    """Return what little a frame with too few stars says; `drawn_out` is the elongation of its typical source."""
    nothing = np.full((MAP_SIDE, MAP_SIDE), np.nan)
    pix, nan = u.pix, float("nan")
    fwhm = FWHM_PER_SIGMA * float(np.median(stars.size)) * pix if stars.count else nan * u.pix
    count = {0: "no usable star", 1: "one usable star"}.get(stars.count, f"{stars.count} usable stars")
    if not known["noise"] > 0:
        count = f"all pixels alike ({known['background']:g}), no usable star"
    return StarField(
        **known, fwhm=fwhm, fwhm_error=nan * u.pix, fwhm_major=nan * u.pix, fwhm_minor=nan * u.pix, elongation=nan,
        elongation_error=nan, elongation_significant=False, elongation_typical=drawn_out, angle=NO_ANGLE,
        angle_error=NO_ANGLE, map_fwhm=nothing * u.pix, map_elongation=nothing, map_elongation_error=nothing,
        map_angle=nothing * u.deg, map_stars=np.zeros((MAP_SIDE, MAP_SIDE), dtype=int), parts=None, trail=None,
        reason=reason or f"{count}, {FEWEST_STARS} are needed to tell a direction")


def _described(known: dict[str, Any], stars: Stars, star: MeanStar | None, optics: Optics,
               frame: tuple[int, int]) -> StarField:
    """Return the full description of a frame with enough stars; `stars` and `frame` are the image's."""
    noise = np.hypot(SCATTER_PER_NOISE / stars.signal_to_noise, LEAST_NOISE)
    mean = robust_mean(stars.distortion, noise)
    if star is not None and star.distortion_error:
        mean = replace(mean, error=star.distortion_error)
    sigma = float(np.median(stars.size))
    shape = None
    if star is not None and not star.ring:
        scale = star.fwhm * optics.pixel / (sigma * float(np.sqrt(star.shape[0] * star.shape[1])))
        shape = star.shape[0] * scale, star.shape[1] * scale
    gauge = _gauge(sigma, mean.size, mean.size, shape, optics)
    along, across = (FWHM_PER_SIGMA, FWHM_PER_SIGMA) if shape is None else shape
    ratio = ((1 + mean.size) / (1 - mean.size)) ** 0.25
    maps = shape_maps(stars, noise, frame, gauge.factor)
    parts, trail, lengths = parts_and_trail(stars, noise, frame, gauge)
    for _ in range(REFINEMENTS if parts.varies else 0):
        still = float(np.median(stars.size / gauge.growth(lengths)))
        usual = float(gauge.table.distortion_of(np.median(lengths) / gauge.stretch))
        gauge = _gauge(still, 0.0, usual, shape, optics)
        parts, trail, lengths = parts_and_trail(stars, noise, frame, gauge)
    if not (parts.varies or mean.significant):
        trail = replace(trail, significant=False)
    typical = max(float(np.median(np.abs(stars.distortion) ** 2 - 2 * noise**2)), 0.0) ** 0.5
    pix = gauge.step * u.pix
    spread = MEDIAN_ERROR * float(np.median(np.abs(stars.size - sigma))) / np.sqrt(stars.count)
    width, error = (gauge.factor * sigma * gauge.step, np.hypot(spread / sigma, UNSHAPED) * gauge.factor * sigma *
                    gauge.step) if star is None else (star.fwhm, star.error)
    return StarField(
        **known, fwhm=width * u.pix, fwhm_error=error * u.pix,
        fwhm_major=along * sigma * ratio * pix, fwhm_minor=across * sigma / ratio * pix,
        elongation=elongation_of(mean.size), elongation_error=elongation_error(mean.size, mean.error),
        elongation_significant=mean.significant, elongation_typical=elongation_of(typical), angle=mean.angle,
        angle_error=mean.angle_error, map_fwhm=maps["fwhm"] * pix, map_elongation=maps["elongation"],
        map_elongation_error=maps["error"], map_angle=maps["angle"] * u.deg, map_stars=maps["stars"].astype(int),
        parts=parts, trail=trail, reason="")


def _gauge(sigma: float, distortion: float, usual: float, shape: tuple[float, float] | None, optics: Optics) -> Gauge:
    """Return what turns moments into trails: the model of the star with this moment width at this distortion.

    Stars with other wings than the model's need trails longer or shorter by the root of the ratio of their shapes, half
    maximum over moment width (an empirical rule: within 1.3 % for Gaussian to Moffat 2.5, trails to 3 FWHM). `usual` is
    the distortion of the stars whose `shape` was measured.
    """
    table = trail_table(sigma**2 * float(np.sqrt((1 - distortion) / (1 + distortion))), distortion, optics)
    step = round(1 / optics.pixel)
    modelled = table.shape_of(float(table.length_of(np.array(usual))))
    factor = modelled if shape is None else float(np.sqrt(shape[0] * shape[1]))
    return Gauge(table, float(np.sqrt(factor / modelled)), factor, factor / modelled, step)
