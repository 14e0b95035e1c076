"""One plane of a frame and what its header knows; files/ reads it."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from astropy import units as u


@dataclass(frozen=True, kw_only=True)
class Frame:
    """One plane of a frame and what its header knows; None where it does not."""

    path: Path
    image: np.ndarray  # (rows, columns) float32
    second: tuple[np.ndarray, int, int] | None  # the other green of a mosaic: columns and rows after `image`
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
