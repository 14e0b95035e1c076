"""Find the stars on a frame: background, noise and sources; plain floats, pixels and the frame's own unit.

Columns are `x`, rows are `y`; the centre of the first pixel is (0, 0).
"""

import threading
from dataclasses import dataclass

import numpy as np
import sep

# Side of a background box [pix]: wide against any star, narrow against a nebula or a gradient.
BOX = 128
SMALLEST_BOX = 32
# Threshold over the noise after smoothing with the 3 x 3 kernel below; that noise is 0.375 of the frame's, so that this
# is 6.7 of its own, and a star with a peak of 5 times the frame's noise is found.
THRESHOLD = 2.5
FEWEST_PIXELS = 3
KERNEL = np.array([[1.0, 2, 1], [2, 4, 2], [1, 2, 1]])
PIXEL_STACK = 1_000_000
# Light over the brightest pixel of what is no hot pixel, which has 1; peak over noise of what stands clear of it.
EXTENDED, CLEAR, FEWEST_CLEAR = 1.3, 8.0, 15
LEVELS = 16  # at which light is looked at for more than one peak
TRIES = 4  # each with twice the threshold before: a frame full of light overflows the detection's memory
_SEP = threading.Lock()  # the library keeps its limits in globals


@dataclass(frozen=True)
class Detections:
    """Sources of one frame, (n,) each; faint, blended and false ones among them."""

    x: np.ndarray  # of the weighted light, pix
    y: np.ndarray
    column: np.ndarray  # of the brightest pixel
    row: np.ndarray
    peak: np.ndarray  # of it, over the background
    flux: np.ndarray  # above the detection's contour
    a: np.ndarray  # rms along and across, inside the contour, pix
    b: np.ndarray
    blended: np.ndarray
    background: float  # of the whole frame
    noise: float  # rms of one pixel

    @property
    def count(self) -> int:
        """Number of sources."""
        return self.x.size

    @property
    def clear(self) -> np.ndarray:
        """Which are wider than one pixel and far above the noise (n,)."""
        return (self.flux > EXTENDED * self.peak) & (self.peak > CLEAR * self.noise)

    @property
    def usual_shape(self) -> tuple[float, float]:
        """Median rms along the clear ones, pix, and median elongation; NaN for too few of them."""
        if self.clear.sum() < FEWEST_CLEAR:
            return np.nan, np.nan
        along, across = self.a[self.clear], self.b[self.clear]
        return float(np.median(along)), float(np.median(1 - across / np.maximum(along, 1e-9)))


def subtract_background(image: np.ndarray, mask: np.ndarray | None = None, box: int = BOX) -> tuple[float, float]:
    """Subtract the background from a float32 frame (ny, nx) in place; return its level and the noise of a pixel.

    `mask` (ny, nx) is true where the frame holds no measurement; such pixels become 0. `box` is the side of a box.
    """
    side = int(min(max(min(image.shape) // 4, SMALLEST_BOX), box))
    background = sep.Background(image, mask=mask, bw=side, bh=side)
    background.subfrom(image)
    if mask is not None:
        image[mask] = 0
    return float(background.globalback), float(background.globalrms)


def detect(image: np.ndarray, level: float, noise: float, mask: np.ndarray | None = None) -> Detections:
    """Return the sources of a background-subtracted float32 frame (ny, nx); none where the noise is zero."""
    if not noise > 0 or not np.isfinite(noise):
        return _as_detections(np.zeros(0, _FIELDS), level, noise)
    for attempt in range(TRIES):
        with _SEP:
            sep.set_extract_pixstack(PIXEL_STACK)
            sep.set_sub_object_limit(4096)
            try:
                # What a bright star's wings add to its neighbours `selection` judges.
                found = sep.extract(image, THRESHOLD * 2**attempt, err=noise, mask=mask, minarea=FEWEST_PIXELS,
                                    filter_kernel=KERNEL, deblend_nthresh=LEVELS, clean=False)
                return _as_detections(found, level, noise)
            except Exception as error:  # the library raises plain Exception
                if attempt == TRIES - 1 or ("overflow" not in str(error) and "full" not in str(error)):
                    break
    return _as_detections(np.zeros(0, _FIELDS), level, noise)


_FIELDS = np.dtype([(name, float) for name in ("x", "y", "xpeak", "ypeak", "peak", "flux", "a", "b")] + [("flag", int)])


def _as_detections(found: np.ndarray, level: float, noise: float) -> Detections:
    return Detections(
        x=found["x"], y=found["y"], column=found["xpeak"].astype(int), row=found["ypeak"].astype(int),
        peak=found["peak"].astype(float), flux=found["flux"].astype(float), a=found["a"], b=found["b"],
        blended=found["flag"] & sep.OBJ_MERGED != 0, background=level, noise=noise)
