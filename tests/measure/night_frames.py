"""A night of frames through optics whose focus, tilt, sky and mount are known: ``python tests/measure/night_frames.py
FOLDER [seed]`` writes 30 FITS frames of 60 s.

Drawn by GalSim star by star: Kolmogorov air behind a disc of blur whose diameter is the distance of the sensor from the
focus where the star falls. The seeing wanders; cloud at frames 12 to 14; wind at 20; the focus goes from 16 on as it
cools; the sensor leans to one side.
"""

import sys
from dataclasses import dataclass
from pathlib import Path

import galsim
import numpy as np

BACKGROUND, NOISE = 1000.0, 8.0
SCALE, TRAIL = 1.2, 0.9  # arcsec per pixel; pixels an unguided minute moves a star
FOCUSES = 12  # discs of blur that are drawn
TILT = 2.5 * np.exp(0.6j)


@dataclass(frozen=True, kw_only=True)
class Optics:
    """Distance from the focus in units of the blur it makes, pixels across: in the middle, and more at the corners."""

    middle: float = 0.0
    tilt: complex = 0.0  # at the corner it points to, minus that at the opposite one: x + iy
    curvature: float = 0.0

    def blur(self, x, y, shape):
        """Return the diameter of the disc (n,) at places in pixels."""
        rows, columns = shape
        z = ((x - (columns - 1) / 2) + 1j * (y - (rows - 1) / 2)) / (np.hypot(rows, columns) / 2)
        return np.abs(self.middle + (z * np.conj(self.tilt)).real + self.curvature * np.abs(z) ** 2)


def noisy(rng, electrons):
    """Return a frame with its sky and noise."""
    noise = np.hypot(NOISE, np.sqrt(np.maximum(electrons, 0))) * rng.normal(size=electrons.shape)
    return (electrons + BACKGROUND + noise).astype(np.float32)


def drawn(stars, optics, *, fwhm=2.6, trail=0j, shape=(360, 480)):
    """Return the electrons (rows, columns) of stars (n, 3): x, y, electrons."""
    x, y, light = stars.T
    discs = optics.blur(x, y, shape)
    steps = np.linspace(0, max(discs.max(), 0.1), FOCUSES)
    frame = galsim.ImageF(shape[1], shape[0], xmin=0, ymin=0)
    seen = galsim.Kolmogorov(fwhm=fwhm)
    if abs(trail):
        seen = galsim.Convolve(seen, galsim.Box(abs(trail), 1e-3).rotate(np.angle(trail) * galsim.radians))
    profiles = [seen if size < 0.1 else galsim.Convolve(seen, galsim.TopHat(size / 2)) for size in steps]
    for column, row, flux, disc in zip(x, y, light, discs, strict=True):
        profile = profiles[int(np.argmin(np.abs(steps - disc)))].withFlux(flux)
        middle = galsim.PositionI(round(column), round(row))
        stamp = profile.drawImage(nx=41, ny=41, scale=1.0, offset=(column - middle.x, row - middle.y))
        stamp.setCenter(middle)
        inside = stamp.bounds & frame.bounds
        if inside.isDefined():
            frame[inside] += stamp[inside]
    return frame.array


def catalogue(rng, count, shape=(360, 480)):
    """Return stars (n, 3): x, y, electrons."""
    return np.column_stack([rng.uniform(0, shape[1], count), rng.uniform(0, shape[0], count),
                            4e3 * 30 ** (rng.uniform(size=count) ** 2)])


def night(seed, *, tilt=TILT, troubles=True, count=30):
    """Yield image and header of each frame."""
    rng = np.random.default_rng([seed, 31])
    stars, air, away = catalogue(rng, 120), 0.0, np.zeros(2)
    for index in range(count):
        air = 0.8 * air + 0.04 * rng.normal()
        focus = 0.25 * max(index - 16, 0) if troubles else 0.0
        wind = troubles and index == 20
        light = (0.45 if troubles and 12 <= index <= 14 else 1.0) * (1 + 0.01 * rng.normal())
        away = away + 0.3 * rng.normal(size=2) + [TRAIL, 0.2]
        shifted = stars * [1, 1, light] + [*away, 0]
        yield noisy(rng, drawn(shifted, Optics(middle=focus, tilt=tilt), fwhm=2.6 * np.exp(air),
                               trail=complex(TRAIL + (4 if wind else 0), 0.2))), {
            "EXPTIME": 60.0, "DATE-OBS": f"2026-11-10T20:{index + 10}:00", "FILTER": "L", "CCD-TEMP": -10.0,
            "AMBTEMP": round(8 - 0.12 * index, 2), "CTYPE1": "RA---TAN", "CTYPE2": "DEC--TAN", "CRVAL1": 339.267,
            "CRVAL2": 34.416, "CRPIX1": 240.5, "CRPIX2": 180.5, "CD1_1": -SCALE / 3600, "CD1_2": 0.0, "CD2_1": 0.0,
            "CD2_2": SCALE / 3600}


if __name__ == "__main__":
    from astropy.io import fits

    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    for number, (pixels, header) in enumerate(night(int(sys.argv[2]) if len(sys.argv) > 2 else 1)):
        unit = fits.PrimaryHDU(pixels)
        unit.header.update(header)
        unit.writeto(folder / f"frame{number:02d}.fits", overwrite=True)
