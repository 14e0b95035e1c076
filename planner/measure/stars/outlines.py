"""Star shapes of a frame as outlines to look at: nine mean stars, and a stroke for each single one. All exaggerated.

Places are in the camera's pixels, columns as x and rows as y, as on the frame.
"""

from dataclasses import dataclass

import numpy as np

from planner.measure.stars.mean_shape import MAP_SIDE
from planner.measure.stars.star_field import StarField

MOST_STROKES = 400
CORNERS = 40  # of an outline
RADIUS = 0.105  # of a mean star, as a share of the frame's shorter side
STROKE = 0.07  # longest usual stroke, likewise
LARGEST_DRAWN = 0.7  # elongation of an outline
FACTORS = (1.0, 2.0, 3.0, 5.0, 10.0)


@dataclass(frozen=True)
class StarOutlines:
    """What to draw: strokes from (x0, y0) to (x1, y1), (n,), and the outlines of mean stars, (k, corners)."""

    x0: np.ndarray
    y0: np.ndarray
    x1: np.ndarray
    y1: np.ndarray
    outline_x: np.ndarray
    outline_y: np.ndarray
    outline_fwhm: np.ndarray  # pix (k,)
    outline_elongation: np.ndarray  # (k,), as measured
    factor: float  # by which elongations of the outlines are exaggerated
    columns: int
    rows: int


def star_outlines(field: StarField) -> StarOutlines:
    """Return the outlines of a frame's stars; none for parts of the field with too few of them.

    A stroke lies along the major axis of one star, its length in proportion to the elongation, noise included. A mean
    star's outline has an area in proportion to the square of its FWHM; its elongation is drawn `factor` times.
    """
    rows, columns = field.shape
    side = min(rows, columns)
    x0, y0, x1, y1 = _strokes(field, STROKE * side)
    x, y, width, elongation, factor = _outlines(field, RADIUS * side)
    return StarOutlines(x0=x0, y0=y0, x1=x1, y1=y1, outline_x=x, outline_y=y, outline_fwhm=width,
                        outline_elongation=elongation, factor=factor, columns=columns, rows=rows)


def _strokes(field: StarField, longest: float) -> tuple[np.ndarray, ...]:
    stars = field.stars
    chosen = np.argsort(stars.signal_to_noise)[::-1][:MOST_STROKES]
    size = np.abs(stars.distortion[chosen])
    elongation = 1 - np.sqrt((1 - size) / (1 + size))
    usual = max(float(np.median(elongation)), 1e-3) if chosen.size else 1.0
    half = 0.5 * longest * np.minimum(elongation / (2 * usual), 1.5)
    step = half * np.exp(0.5j * np.angle(stars.distortion[chosen]))
    x, y = stars.x[chosen], stars.y[chosen]
    return x - step.real, y - step.imag, x + step.real, y + step.imag


def _outlines(field: StarField, radius: float) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray, float]:
    rows, columns = field.shape
    good = np.isfinite(field.map_elongation) & np.isfinite(field.map_fwhm.value) & np.isfinite(field.map_angle.value)
    row, column = np.nonzero(good)
    elongation, width = field.map_elongation[good], field.map_fwhm.value[good]
    largest = float(np.max(elongation, initial=1e-3))
    factor = max(item for item in FACTORS if item * largest <= max(LARGEST_DRAWN, largest))
    ratio = np.sqrt(1 - factor * elongation)
    size = radius * width / max(float(np.median(width)), 1e-9) if width.size else width
    turn = np.linspace(0, 2 * np.pi, CORNERS)
    shape = (np.outer(size / ratio, np.cos(turn)) + 1j * np.outer(size * ratio, np.sin(turn)))
    shape = shape * np.exp(1j * np.radians(field.map_angle.value[good]))[:, None]
    x = (column + 0.5) / MAP_SIDE * columns
    y = (row + 0.5) / MAP_SIDE * rows
    return x[:, None] + shape.real, y[:, None] + shape.imag, width, elongation, factor
