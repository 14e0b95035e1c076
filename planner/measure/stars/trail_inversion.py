"""The length of a trail from the moments of the star it drew out: the star-image model, read backwards.

The model is `planner.optics`' own: air, aperture, focus and pixel times a uniform trail. Its seeing is not given but
found from the width across the trail. Plain floats, in the unit of the moments.
"""

import math
from dataclasses import dataclass

import numpy as np
from astropy import units as u

from planner.checks import require_positive
from planner.constants import KOLMOGOROV_FWHM
from planner.optics import cutoff_frequency, sigma_from_fwhm
from planner.optics.quarter_plane import QuarterPlane
from planner.optics.transfer import Transfer
from planner.rig import Telescope

# Trails of the table in units of the still star's sigma: to ten widths, dense at the short end.
LENGTHS = np.concatenate([[0.0], np.geomspace(0.02, 24.0, 47)])
FREQUENCIES = (56, 24)  # along and across, as in `motion_response`
SHARPEST, WIDEST = 0.05, 100.0  # seeing, in pixels
STEPS = 12


@dataclass(frozen=True)
class Optics:
    """What is known of the star's shape besides its seeing; angles in pixels. The default is the air alone."""

    cutoff_per_pixel: float | None = None  # aperture over wavelength; None: a large aperture
    obstruction: float = 0.0
    blur_sigma: float = 0.0
    pixel: float = 1.0  # side of the light-sensitive square, in steps of the grid: 0.5 on one colour of a mosaic


@dataclass(frozen=True)
class TrailTable:
    """Moments of one star against the length of its trail, (m,) each."""

    length: np.ndarray
    larger: np.ndarray  # squared
    smaller: np.ndarray
    width: np.ndarray  # geometric mean of the half-maximum widths
    seeing: float  # FWHM

    def length_of(self, distortion: np.ndarray) -> np.ndarray:
        """Return trail lengths for distortions (a2 - b2)/(a2 + b2) of any shape; beyond the table, its end."""
        known = (self.larger - self.smaller) / (self.larger + self.smaller)
        squares = np.interp(distortion, known, self.length**2)  # straight near zero, as the moments are
        return np.sqrt(squares)

    def distortion_of(self, length: np.ndarray) -> np.ndarray:
        """Return the distortion (a2 - b2)/(a2 + b2) that trails of these lengths make."""
        known = (self.larger - self.smaller) / (self.larger + self.smaller)
        return np.interp(np.asarray(length) ** 2, self.length**2, known)

    def shape_of(self, length: float) -> float:
        """Return half-maximum width over moment width, both as geometric means: 2.355 for a Gaussian."""
        return float(np.interp(length, self.length, self.width / (self.larger * self.smaller) ** 0.25))


def trail_table(smaller: float, distortion: float, optics: Optics) -> TrailTable:
    """Return the table of the star whose smaller squared moment and distortion were measured.

    The seeing is the one for which a trail of that distortion leaves that smaller moment; for a star sharper than
    the pixel it is the sharpest of the model.
    """
    floor = optics.blur_sigma**2 + optics.pixel**2 / 12
    seeing = 2.2 * math.sqrt(max(smaller - floor, 1e-3))
    for _ in range(STEPS):
        table = _table(seeing, optics)
        length = float(table.length_of(np.array(distortion)))
        found = float(np.interp(length, table.length, table.smaller))
        change = max(smaller - floor, 1e-4) / max(found - floor, 1e-4)
        seeing = float(np.clip(seeing * math.sqrt(change), SHARPEST, WIDEST))
        if abs(change - 1) < 1e-4:
            break
    return table


def _table(seeing: float, optics: Optics) -> TrailTable:
    """Compute the moments of one still star under all trails of the table."""
    cutoff = optics.cutoff_per_pixel or 30 * KOLMOGOROV_FWHM / seeing
    transfer = Transfer(seeing_arcsec=seeing, cutoff_per_arcsec=cutoff, obstruction=optics.obstruction,
                        pixel_arcsec=optics.pixel, blur_sigma_arcsec=optics.blur_sigma)
    plane = QuarterPlane.of(transfer, *FREQUENCIES)
    sigma = math.hypot(0.45 * seeing, optics.blur_sigma, optics.pixel / math.sqrt(12))
    length = LENGTHS * sigma
    moved, across = np.sinc(plane.u * length[:, None]), np.ones((length.size, plane.v.size))
    first = sigma**2 + length**2 / 12
    larger, smaller = plane.moments(moved, across, first, np.full(length.size, sigma**2))
    return TrailTable(length, np.maximum(larger, smaller), smaller, plane.width(moved, across, larger, smaller), seeing)


def optics_of(telescope: Telescope, wavelength: u.Quantity, image_scale: u.Quantity) -> Optics:
    """Return what a telescope adds to the star's shape.

    `wavelength` [nm]. `image_scale` [arcsec/pix]: of one pixel of the image that is measured.
    """
    pixel = require_positive("image_scale", image_scale, u.arcsec / u.pix, "Give the sky one pixel sees.").value
    cutoff = cutoff_frequency(wavelength, telescope.aperture).to_value(1 / u.arcsec) * pixel
    blur = sigma_from_fwhm(telescope.optical_blur).to_value(u.arcsec) / pixel
    return Optics(cutoff_per_pixel=float(cutoff), obstruction=telescope.obstruction, blur_sigma=float(blur))
