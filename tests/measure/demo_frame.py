"""The demo test frame of the data folder, made again from its seed: python tests/measure/demo_frame.py.

Drawn by GalSim, an independent image simulator: one minute without guiding through the demo's 200 mm reflector, the
stars trailed by a worm drive and a polar axis that is off, the sensor a little tilted, some coma left at the corners.
"""

from pathlib import Path

import numpy as np
from astropy.io import fits
from frame_sim import Sky, draw

DATA = Path(__file__).parents[2] / "data"
SEED = 20261128
SCALE = 206.265 * 3.8 / 800  # arcsec per pixel: 3.8 um behind 800 mm
UP = 12.0  # position angle of the direction in which rows grow, deg
ROWS, COLUMNS = 700, 1000
TRAIL_EAST, TRAIL_NORTH = 2.9, 1.1  # arcsec in the minute


def sky():
    """Return what is on the frame; pixels, angles from +x towards +y."""
    up = np.radians(UP)
    # Up is (east, north) = (sin, cos) of its position angle; right is (-cos, sin): east lies to the left of north.
    x = (-TRAIL_EAST * np.cos(up) + TRAIL_NORTH * np.sin(up)) / SCALE
    y = (TRAIL_EAST * np.sin(up) + TRAIL_NORTH * np.cos(up)) / SCALE
    return Sky(fwhm=2.9 / SCALE, trail=float(np.hypot(x, y)), angle=float(np.degrees(np.arctan2(y, x))), stars=420,
               size=COLUMNS, profile="moffat", tilt=0.06, coma=0.08, noise=4.0, flux=(2e3, 9e4), seed=SEED)


def frame():
    """Return the frame as a FITS image."""
    image = draw(sky())[0]
    cut = (COLUMNS - ROWS) // 2
    image = np.clip(np.round((image[cut:cut + ROWS] - 850) / 2), 0, 65535).astype(np.uint16)
    unit = fits.CompImageHDU(image, compression_type="RICE_1")
    up = np.radians(UP)
    matrix = SCALE / 3600 * np.array([[-np.cos(up), np.sin(up)], [np.sin(up), np.cos(up)]])
    unit.header.update({
        "EXPTIME": 60.0, "DATE-OBS": "2026-11-10T19:40:00", "FILTER": "L", "SATURATE": 65535.0,
        "CTYPE1": "RA---TAN", "CTYPE2": "DEC--TAN", "CRVAL1": 339.267, "CRVAL2": 34.416, "CRPIX1": (COLUMNS + 1) / 2,
        "CRPIX2": (ROWS + 1) / 2, "CD1_1": matrix[0, 0], "CD1_2": matrix[0, 1], "CD2_1": matrix[1, 0],
        "CD2_2": matrix[1, 1],
    })
    unit.header["COMMENT"] = "Demo test frame. Origin: invented for this project, made by"
    unit.header["COMMENT"] = f"tests/measure/demo_frame.py (seed {SEED})."
    return unit


if __name__ == "__main__":
    fits.HDUList([fits.PrimaryHDU(), frame()]).writeto(DATA / "frame_demo.fits", overwrite=True, checksum=True)
