"""One plane of a frame and what its header knows; files/ reads it."""

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any, Protocol

import numpy as np
from astropy import units as u

STRIP_PIXELS = 1 << 20
LARGEST_VALUE = 1e18  # a value whose square float32 holds


class Image(Protocol):
    """Pixels by rows and columns, in memory or elsewhere: an ndarray is one."""

    @property
    def shape(self) -> tuple[int, ...]: ...

    def __getitem__(self, index: Any, /) -> Any: ...

    def __array__(self) -> np.ndarray: ...


@dataclass(frozen=True)
class Counts:
    """The pixels of a plane as they lie in a file, mapped or in memory; as physical values, float32, by their index.

    A value beyond ±1e18, more than any camera counts, holds nothing.
    """

    raw: np.ndarray  # (rows, columns)
    scale: float = 1.0
    zero: float = 0.0
    blank: int | None = None  # the raw value of a pixel that holds nothing

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        rows, columns = self.raw.shape
        return rows, columns

    @property
    def whole(self) -> bool:
        """Whether every pixel holds a number, by the kind of its raw values and what is made of them."""
        return self.raw.dtype.kind in "iu" and self.blank is None and bool(
            abs(self.scale) * 2.0 ** (8 * self.raw.itemsize) + abs(self.zero) < LARGEST_VALUE)

    def __getitem__(self, index: Any) -> np.ndarray:
        raw = self.raw[index]
        if raw.dtype.kind == "i" and raw.itemsize == 2 and (self.scale, self.zero) == (1, 32768) and self.blank is None:
            values = raw.view(raw.dtype.str.replace("i2", "u2")).astype(np.uint16) ^ np.uint16(0x8000)
            values = values.astype(np.float32)
        else:
            with np.errstate(over="ignore", invalid="ignore"):
                values = raw if (self.scale, self.zero) == (1, 0) else raw * self.scale + self.zero
                values = values.astype(np.float32)
        if self.blank is not None:
            values[raw == self.blank] = np.nan
        if not self.whole:
            values[np.abs(values) > LARGEST_VALUE] = np.nan
        return values

    def __array__(self, dtype: Any = None, copy: bool | None = None) -> np.ndarray:
        image = np.empty(self.shape, dtype=np.float32)
        rows = max(1, STRIP_PIXELS // self.shape[1])
        for first in range(0, self.shape[0], rows):
            image[first : first + rows] = self[first : first + rows]
        return image if dtype is None else image.astype(dtype, copy=False)


@dataclass(frozen=True, kw_only=True)
class Frame:
    """One plane of a frame and what its header knows; None where it does not."""

    path: Path
    counts: Counts
    second: tuple[Counts, int, int] | None  # the other green of a mosaic: columns and rows after `counts`
    pixel_step: int  # pixels of the camera from one column to the next: 2 for one colour of a mosaic
    colour: str | None  # the plane or colour taken
    exposure: u.Quantity | None
    time: str | None  # of the start, UTC, ISO 8601
    ra: u.Quantity | None  # of the frame's centre
    dec: u.Quantity | None
    image_scale: u.Quantity | None  # arcsec/pix, of the camera's pixels
    sky: np.ndarray | None  # (2, 2): (column, row) steps of one camera pixel to (east, north) in arcsec
    temperature: u.Quantity | None  # deg_C, of telescope or air
    filter_name: str | None
    saturation: float | None
    notes: tuple[str, ...]

    @cached_property
    def image(self) -> np.ndarray:
        """All pixels, (rows, columns) float32."""
        return np.asarray(self.counts)
