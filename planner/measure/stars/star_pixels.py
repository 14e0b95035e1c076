"""Stars on their ellipses, and the pixels of one colour around them; plain floats, pixels of the camera."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from planner.measure.stars.plane import Image

LEAST_MOMENT = 0.02  # pix2
Plane = tuple[Image, int, int]  # one of a colour: image, column and row of its first pixel in the camera


@dataclass(frozen=True)
class StarEllipses:
    """Stars on their ellipses, (n,) each."""

    x: np.ndarray
    y: np.ndarray
    light: np.ndarray  # of the star's centre
    xx: np.ndarray  # before the pixel where that is integrated
    xy: np.ndarray
    yy: np.ndarray

    def chosen(self, which: np.ndarray) -> "StarEllipses":
        """Return some of the stars, by mask or index."""
        return StarEllipses(*(getattr(self, name)[which] for name in self.__dataclass_fields__))

    @property
    def axes(self) -> tuple[np.ndarray, ...]:
        """Sigma along and across, cosine and sine of the direction, (n, 1) each."""
        mean, half = (self.xx + self.yy) / 2, np.hypot((self.xx - self.yy) / 2, self.xy)
        angle = np.arctan2(2 * self.xy, self.xx - self.yy) / 2
        least = LEAST_MOMENT * 0.5
        along, across = (np.sqrt(np.maximum(value, least)) for value in (mean + half, mean - half))
        return tuple(value[:, None] for value in (along, across, np.cos(angle), np.sin(angle)))

    def grown(self, growth: np.ndarray) -> "StarEllipses":
        """Return the stars with E11, E22, E12 (n, 3) or (3,) more of their moments along the ellipse's axes."""
        along, across, cos, sin = (value[:, 0] for value in self.axes)
        one, two, cross = along**2 * np.exp(growth[..., 0]), across**2 * np.exp(growth[..., 1]), (
            along * across * growth[..., 2])
        return replace(self, xx=np.maximum(one * cos**2 + two * sin**2 - 2 * cross * cos * sin, LEAST_MOMENT),
                       yy=np.maximum(one * sin**2 + two * cos**2 + 2 * cross * cos * sin, LEAST_MOMENT),
                       xy=(one - two) * cos * sin + cross * (cos**2 - sin**2))


@dataclass(frozen=True)
class Pixels:
    """The pixels around stars, (n, p) each; light that is not known is NaN."""

    x: np.ndarray
    y: np.ndarray
    light: np.ndarray

    def on(self, stars: StarEllipses) -> tuple[np.ndarray, np.ndarray]:
        """Return u, v (n, p) on the stars' ellipses."""
        along, across, cos, sin = stars.axes
        dx, dy = self.x - stars.x[:, None], self.y - stars.y[:, None]
        return (dx * cos + dy * sin) / along, (dy * cos - dx * sin) / across

    def chosen(self, which: np.ndarray) -> "Pixels":
        """Return the pixels of some of the stars."""
        return Pixels(self.x[which], self.y[which], self.light[which])


def pixels_around(planes: Sequence[Plane], step: int, x: np.ndarray, y: np.ndarray, reach: float,
                  others: np.ndarray, stride: int = 1) -> Pixels:
    """Return the pixels of one colour within a square of `reach` around stars, every `stride`-th of a row or column.

    Pixels nearer to one of `others` (m, 2), the neighbours, than to the star are not known.
    """
    parts = []
    half = int(np.ceil(reach / step / stride)) * stride
    offset = np.arange(-half, half + 1, stride)
    for image, first_column, first_row in planes:
        column = np.rint((x - first_column) / step).astype(int)[:, None, None] + offset
        row = np.rint((y - first_row) / step).astype(int)[:, None, None] + offset[:, None]
        inside = (column >= 0) & (row >= 0) & (column < image.shape[1]) & (row < image.shape[0])
        light = np.where(inside, image[np.clip(row, 0, image.shape[0] - 1), np.clip(column, 0, image.shape[1] - 1)],
                         np.nan)
        parts.append([np.broadcast_to(value, light.shape).reshape(len(x), -1).astype(float)
                      for value in (column * step + first_column, row * step + first_row, light)])
    found = Pixels(*(np.concatenate([part[name] for part in parts], axis=1) for name in range(3)))
    return _without(found, x, y, others, 2.8 * reach)


def _without(pixels: Pixels, x: np.ndarray, y: np.ndarray, others: np.ndarray, reach: float) -> Pixels:
    from scipy.spatial import cKDTree

    light = pixels.light.copy()
    tree = cKDTree(others)
    for star, near in enumerate(tree.query_ball_point(np.column_stack([x, y]), reach)):
        own = (pixels.x[star] - x[star]) ** 2 + (pixels.y[star] - y[star]) ** 2
        for place in others[near]:
            if np.hypot(*(place - (x[star], y[star]))) > 1.5:
                light[star][(pixels.x[star] - place[0]) ** 2 + (pixels.y[star] - place[1]) ** 2 < own] = np.nan
    return replace(pixels, light=light)
