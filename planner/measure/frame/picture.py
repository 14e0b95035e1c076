"""A frame as a picture to look at: stretched, with its stars ringed; and how wide stars are over it."""

from dataclasses import dataclass

import numpy as np

from planner.measure.robust import SIGMA_PER_MEDIAN
from planner.measure.stars.plane import Counts
from planner.measure.stars.star_field import StarField

WIDEST = 640  # columns of a picture
SOFTENING = 0.03  # of the asinh stretch, as a share of the range shown
BELOW, ABOVE = 2.0, 12.0  # noise of a picture's pixel: what is black, and the least that is white
BRIGHTEST = 99.8  # percentile that is white
RING = 2.0  # radius of a ring, in FWHM
SMALLEST_RING = 4.0  # pixels of the picture
PER_CELL, MOST_CELLS = 8, 8  # stars of a cell of the map; cells along its longer side
FEWEST_IN_CELL = 3
LEAST_REACH = 0.1  # of the usual width: smaller differences stay pale


@dataclass(frozen=True)
class WidthMap:
    """Median FWHM of the stars in the cells of a frame that hold at least three, (n,) each; edges in pixels."""

    x0: np.ndarray
    x1: np.ndarray
    y0: np.ndarray
    y1: np.ndarray
    fwhm: np.ndarray  # pix
    stars: np.ndarray
    columns: int
    rows: int

    @property
    def colours(self) -> tuple[float, float, float]:
        """Widths of the full colours and of the pale one between them, pix: narrow, as most, wide."""
        middle = float(np.median(self.fwhm))
        reach = max(LEAST_REACH * middle, float(np.abs(self.fwhm - middle).max()))
        return middle - reach, middle, middle + reach


def stretched(counts: Counts | np.ndarray) -> np.ndarray:
    """Return a frame as a grey picture (rows, columns) of bytes, first row first, at most `WIDEST` columns.

    Pixels are averaged, then stretched by the inverse hyperbolic sine, which shows faint and bright alike (Lupton et
    al. 2004, PASP 116, 133). Pixels that hold no number are black.
    """
    from astropy.visualization import AsinhStretch, ImageNormalize

    small = _averaged(counts, max(1, -(-counts.shape[1] // WIDEST)))
    seen = small[np.isfinite(small)]
    if seen.size == 0:
        return np.zeros(small.shape, dtype=np.uint8)
    middle = float(np.median(seen))
    noise = SIGMA_PER_MEDIAN * float(np.median(np.abs(seen - middle))) or 1.0
    top = max(float(np.percentile(seen, BRIGHTEST)), middle + ABOVE * noise)
    norm = ImageNormalize(vmin=middle - BELOW * noise, vmax=top, stretch=AsinhStretch(SOFTENING), clip=True)
    return np.asarray(255 * norm(np.where(np.isfinite(small), small, -np.inf)).filled(0), dtype=np.uint8)


def _averaged(counts: Counts | np.ndarray, step: int) -> np.ndarray:
    """Return means of `step` by `step` pixels, strip by strip: a large frame stays in its file."""
    rows, columns = (size // step for size in counts.shape)
    small = np.empty((rows, columns), dtype=np.float32)
    for row in range(rows):
        strip = np.asarray(counts[row * step : (row + 1) * step])[:, : columns * step]
        small[row] = strip.mean(axis=0).reshape(columns, step).mean(axis=1)
    return small


def ringed(picture: np.ndarray, field: StarField) -> np.ndarray:
    """Return a picture, top row first (rows, columns, 3), with a ring around each measured star."""
    from PIL import Image, ImageDraw

    shown = Image.fromarray(np.repeat(picture[::-1, :, None], 3, axis=2))
    pen, scale = ImageDraw.Draw(shown), picture.shape[1] / field.shape[1]
    wide = field.fwhm.value if np.isfinite(field.fwhm.value) else 0.0
    radius = max(SMALLEST_RING, RING * wide * scale)
    for x, y in zip(field.stars.x * scale, picture.shape[0] - 1 - field.stars.y * scale, strict=True):
        pen.ellipse((x - radius, y - radius, x + radius, y + radius), outline=(240, 150, 30))
    return np.asarray(shown)


def width_map(field: StarField) -> WidthMap:
    """Return how wide stars are over a frame, in cells of some eight stars; empty for too few stars."""
    rows, columns = field.shape
    stars = field.stars
    along = int(np.clip(np.sqrt(stars.count * max(rows, columns) / (PER_CELL * min(rows, columns))), 1, MOST_CELLS))
    side = max(rows, columns) / along
    wide, high = max(1, round(columns / side)), max(1, round(rows / side))
    x, y = np.linspace(0, columns, wide + 1), np.linspace(0, rows, high + 1)
    column, row = np.digitize(stars.x, x[1:-1]), np.digitize(stars.y, y[1:-1])
    usual = float(np.median(stars.size)) if stars.count else np.nan
    share = field.fwhm.value * stars.size / usual
    cells = [(x[i], x[i + 1], y[j], y[j + 1], np.median(share[inside]), inside.sum())
             for i in range(wide) for j in range(high)
             if (inside := (column == i) & (row == j)).sum() >= FEWEST_IN_CELL]
    table = np.array(cells, dtype=float).reshape(-1, 6).T
    x0, x1, y0, y1, fwhm, count = table
    return WidthMap(x0=x0, x1=x1, y0=y0, y1=y1, fwhm=fwhm, stars=count.astype(int), columns=columns, rows=rows)
