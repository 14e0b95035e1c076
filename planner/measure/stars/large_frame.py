"""A large frame in one pass over its file: the pixels stay there, what holds light is cut out for the detection.

A block of pixels is lit where its smoothed light passes the threshold of `detect`; lit blocks that touch are one piece.
The pieces are laid side by side in an image of a few per cent of the frame, on which the same detection runs. The
background is told from every third pixel of every third row.
"""

from dataclasses import replace
from typing import Any

import numpy as np
import sep

from planner.measure.stars.detection import THRESHOLD, Detections, detect
from planner.measure.stars.plane import Counts

LARGE = 1 << 22  # pixels from which a frame is measured so
STEP = 3  # between the pixels that tell the background: odd, so that all four of a colour mosaic's count
BLOCK = 9  # pixels on a side; the background is straight over a block
BOX = 126  # of the background
STRIP = 18  # rows, which the processor's cache holds
SHELF = 4096  # columns of the image of pieces
MOST_LIT = 0.5  # of the frame that the image of pieces may take


class LargeFrame:
    """A plane less its background, float32 by index; `level` and `noise` as of `subtract_background`."""

    def __init__(self, counts: Counts, box: int = BOX) -> None:
        self.counts, self.shape = counts, counts.shape
        background = sep.Background(counts[::STEP, ::STEP], bw=box // STEP, bh=box // STEP)
        self.level, self.noise = float(background.globalback), float(background.globalrms)
        corners = background.back()[:: BLOCK // STEP, :: BLOCK // STEP]
        self._corners = np.pad(corners, 1, mode="edge")[1:, 1:]  # of the blocks

    def __getitem__(self, index: Any) -> np.ndarray:
        """Return the pixels at rows and columns, two arrays that broadcast."""
        rows, columns = index
        return np.asarray(self.counts[rows, columns] - self._background(rows, columns))

    def __array__(self, dtype: Any = None, copy: bool | None = None) -> np.ndarray:
        image = np.asarray(self.counts)
        columns = np.arange(self.shape[1])
        for first in range(0, self.shape[0], BLOCK):
            rows = np.arange(first, min(first + BLOCK, self.shape[0]))
            image[rows] -= self._background(rows[:, None], columns)
        return image if dtype is None else image.astype(dtype, copy=False)

    def _background(self, rows: np.ndarray, columns: np.ndarray) -> np.ndarray:
        """Return the background at pixels, linear between the corners of their blocks."""
        (row, down), (column, right) = (np.divmod(index, BLOCK) for index in (rows, columns))
        down, right, at = np.float32(1 / BLOCK) * down, np.float32(1 / BLOCK) * right, self._corners
        upper = at[row, column] * (1 - right) + at[row, column + 1] * right
        lower = at[row + 1, column] * (1 - right) + at[row + 1, column + 1] * right
        return np.asarray(upper * (1 - down) + lower * down)

    def detections(self) -> Detections:
        """Return the sources, as `detect` finds them on the whole frame."""
        pieces = self._pieces(self._lit()) if self.noise > 0 else None
        if pieces is None:
            return detect(np.asarray(self), self.level, self.noise)
        image, starts, offsets = pieces
        found = detect(image, self.level, self.noise)
        keys = starts[:, 0] * image.shape[1] + starts[:, 1]
        shelf = np.unique(starts[:, 0])
        shelf = shelf[np.searchsorted(shelf, found.row, side="right") - 1]
        piece = np.searchsorted(keys, shelf * image.shape[1] + found.column, side="right") - 1
        down, right = offsets[piece].T
        return replace(found, x=found.x + right, y=found.y + down, column=found.column + right, row=found.row + down)

    def _lit(self) -> np.ndarray:
        """Return which blocks hold a pixel whose light, smoothed by the kernel of `detect`, passes its threshold."""
        corner = self._corners
        least = np.minimum(np.minimum(corner[:-1, :-1], corner[1:, :-1]), np.minimum(corner[:-1, 1:], corner[1:, 1:]))
        return np.concatenate([_brightest(self.counts, first) for first in range(0, self.shape[0], STRIP)])[
            : len(least)] > 16 * (least + THRESHOLD * self.noise)

    def _pieces(self, lit: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray] | None:
        """Return an image of the lit pieces, where each starts in it, and what leads from there to the frame.

        None where they are too much of the frame. Each has the pixels around it, which its smoothed light needs, and
        an empty one.
        """
        from scipy.ndimage import find_objects, label

        owner, _ = label(lit, np.ones((3, 3)))
        boxes = np.array([[(side.start, side.stop) for side in box] for box in find_objects(owner)], int)
        if not len(boxes):
            return np.zeros((BLOCK, BLOCK), np.float32), np.zeros((1, 2), int), np.zeros((1, 2), int)
        first, sides = boxes[..., 0], (boxes[..., 1] - boxes[..., 0]) * BLOCK + 3
        order = np.argsort(-sides[:, 0], kind="stable")
        starts, size = _shelves(sides[order])
        if size[0] * size[1] > MOST_LIT * self.shape[0] * self.shape[1]:
            return None
        image = np.zeros(size, np.float32)
        place = np.empty_like(order)
        place[order] = np.arange(len(order))
        block = np.argwhere(lit)
        offsets = first[order] * BLOCK - starts - 1
        shift = offsets[place[owner[lit] - 1]]
        reach = np.arange(-1, BLOCK + 1)
        rows, columns = (block[:, [0]] * BLOCK + reach)[:, :, None], (block[:, [1]] * BLOCK + reach)[:, None]
        inside = (rows >= 0) & (rows < self.shape[0]) & (columns >= 0) & (columns < self.shape[1])
        light = self[np.clip(rows, 0, self.shape[0] - 1), np.clip(columns, 0, self.shape[1] - 1)]
        image[rows - shift[:, 0, None, None], columns - shift[:, 1, None, None]] = np.where(inside, light, 0)
        return image, starts, offsets


def _brightest(counts: Counts, first: int) -> np.ndarray:
    """Return 16 times the brightest smoothed pixel of each block of a strip that begins with a row."""
    rows, columns = counts.shape
    strip = np.full((STRIP + 2, -(-columns // BLOCK) * BLOCK + 2), -np.inf, np.float32)
    begin, end = max(first - 1, 0), min(first + STRIP + 1, rows)
    strip[begin - first + 1 : end - first + 1, 1 : columns + 1] = counts[begin:end]
    strip[0] = strip[1] if first == 0 else strip[0]
    strip[end - first + 1 :] = strip[end - first]
    strip[:, 0], strip[:, columns + 1] = strip[:, 1], strip[:, columns]
    for _ in range(2):  # the kernel 1 2 1 in both directions
        strip = strip[:-1] + strip[1:]
    for _ in range(2):
        strip = strip[:, :-1] + strip[:, 1:]
    highest = strip.reshape(-1, BLOCK, strip.shape[1]).max(axis=1)
    return np.asarray(np.maximum.reduce([highest[:, place::BLOCK] for place in range(BLOCK)]))


def _shelves(sides: np.ndarray) -> tuple[np.ndarray, tuple[int, int]]:
    """Return the first row and column of rectangles, highest first, on shelves (n, 2), and the size of all shelves."""
    end = np.cumsum(sides[:, 1])
    shelf = (end - sides[:, 1]) // SHELF
    heads = np.flatnonzero(np.diff(shelf, prepend=-1))
    number = np.cumsum(np.diff(shelf, prepend=shelf[0]) > 0)
    top = np.concatenate([[0], np.cumsum(sides[heads, 0])])
    left = end - sides[:, 1] - (end - sides[:, 1])[heads][number]
    return np.column_stack([top[number], left]), (int(top[-1]), int((left + sides[:, 1]).max()))
