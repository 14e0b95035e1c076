"""Stars sharper than their pixels: places and shapes fitted as the pixel integrates them, on all pixels of one colour.

Moments of such stars depend on where in the pixel they fall. The effective PSF does not; each star is then fitted with
it, on an ellipse of its own. Plain floats, pixels of the camera.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from planner.measure.stars.detection import Detections
from planner.measure.stars.mean_shape import robust_mean
from planner.measure.stars.mean_star import MeanStar, crowded_error, described
from planner.measure.stars.psf.effective_psf import (
    EffectivePsf,
    effective_psf,
    nodes_for,
    own_ellipses,
    recorded_moments,
)
from planner.measure.stars.psf.psf_basis import RADIUS
from planner.measure.stars.selection import Selection, Stars, candidates
from planner.measure.stars.star_pixels import LEAST_MOMENT, Pixels, Plane, StarEllipses, pixels_around

# Below this sigma, in pixels of one plane, moments depend on the place in the pixel by more than they tell.
SHARP = 0.68
FIRST_SIGMA = 0.6  # of the star before the pixel, to start from, in steps between pixels of one colour
MOST_FOR_PSF, MOST_STARS = 200, 900
FEWEST_FOR_PSF = 15
FIRST_NODES, REFITS = 3, 2
WORST_MISFIT = 5.0  # times the usual one
LARGEST_ERROR = 0.03
SHARP_ERROR = 0.0022  # of a FWHM, relative, per step between pixels of one colour (measured, as below)
# Narrowest star as recorded that the pixels of one colour determine, in pixels of the camera, by the count of pixels
# of that colour in four (0: all): narrower ones come out too wide (measured, tests/measure/stars).
NARROWEST = {4: 1.15, 2: 1.8, 1: 2.45}


@dataclass(frozen=True)
class SharpStars:
    """The stars of a frame that is sharper than its pixels, or why they cannot be measured."""

    selection: Selection
    mean: MeanStar | None
    reason: str
    narrow: bool = False  # whether that is because they are sharper than the pixels can tell


def sharp_stars(planes: Sequence[Plane], step: int, found: Detections, saturation: float | None,
                frame: tuple[int, int]) -> SharpStars:
    """Return the stars and their mean; planes, step and the frame's rows and columns as in `mean_star`.

    Detections are those on the mean of the planes.
    """
    image = planes[0][0] if len(planes) == 1 else np.mean([np.asarray(plane[0]) for plane in planes], axis=0)
    choice = candidates(image, found, saturation, FIRST_SIGMA * (1 if step == 1 else 0.7))
    middle = np.mean([plane[1:] for plane in planes], axis=0)
    places = np.column_stack([found.x * step + middle[0], found.y * step + middle[1]])
    noise = found.noise * np.sqrt(len(planes))
    per_cell = len(planes) * 4 // step**2
    nothing = Selection(Stars(*(np.zeros(0) for _ in Stars.__dataclass_fields__)), choice.star_like, choice.rejected, 0)
    order = choice.indices[np.argsort(choice.signal[choice.indices])[::-1]]
    if order.size < FEWEST_FOR_PSF:
        return SharpStars(nothing, None, f"{order.size} stars sharper than the pixels, {FEWEST_FOR_PSF} are needed to "
                                         "tell their width")
    psf, pixels = _psf(planes, step, places, order, noise, per_cell)
    reach = RADIUS * FIRST_SIGMA * 2 / float(np.sqrt(per_cell))
    crowd = crowded_error(places, places[order[:MOST_STARS]], reach, frame)
    mean = None if psf is None else described(psf, float(np.hypot(SHARP_ERROR * 2 / np.sqrt(per_cell), crowd)))
    limit = NARROWEST[per_cell]
    if psf is None or mean is None:
        return SharpStars(nothing, None, "the stars share no one shape: clipped, doubled or crowded")
    if mean.fwhm < limit or psf.error > LARGEST_ERROR:
        told = (f": FWHM below {limit:g} px" if mean.fwhm < limit else
                f" well: their width by {100 * psf.error:.0f} %, {100 * LARGEST_ERROR:.0f} % are needed")
        return SharpStars(nothing, None, f"stars sharper than the pixels{'' if step == 1 else ' of this colour'} can "
                                         f"tell{told}", narrow=True)
    stars, signal, good = _single(pixels, psf, noise)
    kept = Selection(Stars(stars.x, stars.y, stars.light, signal, stars.xx, stars.xy, stars.yy).chosen(good),
                     choice.star_like, {**choice.rejected, **({"not a star": int(np.sum(~good))} if np.any(~good)
                                                              else {})}, 0)
    return SharpStars(kept, mean, "")


def _psf(planes: Sequence[Plane], step: int, places: np.ndarray, order: np.ndarray, noise: float,
         per_cell: int) -> tuple[EffectivePsf | None, Pixels]:
    """Return the effective PSF with all stars to measure, and their pixels."""
    spacing = 2 / np.sqrt(per_cell)
    sigma = FIRST_SIGMA * spacing
    chosen = places[order[:MOST_STARS]]
    pixels = pixels_around(planes, step, chosen[:, 0], chosen[:, 1], RADIUS * 1.3 * sigma + 1, places)
    light = np.maximum(np.nanmax(pixels.light, axis=1), noise)
    stars = StarEllipses(chosen[:, 0], chosen[:, 1], light,
                   *(np.full(len(chosen), value) for value in (sigma**2, 0.0, sigma**2)))
    best = np.arange(min(MOST_FOR_PSF, len(chosen)))
    psf = effective_psf(pixels.chosen(best), stars.chosen(best), noise, FIRST_NODES)
    for _ in range(REFITS):
        if psf is None:
            return None, pixels
        good = psf.misfit < WORST_MISFIT * np.median(psf.misfit)
        along, across, _, _ = psf.stars.axes
        nodes = max(2, nodes_for(float(np.sqrt(np.median(along * across)))))
        if good.all() and nodes == psf.nodes:
            break
        best = best[good]
        psf = effective_psf(pixels.chosen(best), psf.stars.chosen(good), noise, nodes)
    if psf is None:
        return None, pixels
    moments = [np.full(len(chosen), np.median(getattr(psf.stars, name))) for name in ("xx", "xy", "yy")]
    return replace(psf, stars=StarEllipses(stars.x, stars.y, light, *moments)), pixels


def _single(pixels: Pixels, psf: EffectivePsf, noise: float) -> tuple[StarEllipses, np.ndarray, np.ndarray]:
    """Return each star with its moments as recorded, its light and its signal to noise, and which are stars."""
    stars, misfit = own_ellipses(pixels, psf, noise)
    # What the pixel adds to the moments is the same for all stars: that of the middle one.
    middle = [float(np.median(getattr(psf.stars, name))) for name in ("xx", "xy", "yy")]
    whole = recorded_moments(psf.square, StarEllipses(*(np.array([value]) for value in (0.0, 0.0, 1.0, *middle))))
    added = [one - before for one, before in zip(whole, middle, strict=True)]
    xx, xy, yy = (getattr(stars, name) + extra for name, extra in zip(("xx", "xy", "yy"), added, strict=True))
    area = np.sqrt(np.maximum(xx * yy - xy**2, LEAST_MOMENT**2))
    flux = stars.light * 2 * np.pi * area
    good = (misfit < WORST_MISFIT * np.median(misfit)) & (stars.light > 0) & (area > 2 * LEAST_MOMENT)
    good &= np.abs(np.log(area / np.median(area))) < np.log(2)
    good &= np.hypot(stars.x - psf.stars.x, stars.y - psf.stars.y) < 2
    signal = flux / (noise * np.sqrt(4 * np.pi * area))
    if good.any():  # single sharp stars are lopsided by their place in the pixel; the mean one is not
        sums = xx + yy
        off = robust_mean(((xx - yy + 2j * xy) / sums)[good], 2 / signal[good]).value - (
            whole[0] - whole[2] + 2j * whole[1]) / (whole[0] + whole[2])
        xx, yy, xy = xx - off.real * sums / 2, yy + off.real * sums / 2, xy - off.imag * sums / 2
    return replace(stars, light=flux, xx=xx, xy=xy, yy=yy), signal, good
