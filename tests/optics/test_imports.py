"""Importing the room and making its table stay cheap: no scipy before a Bessel function is asked for."""

import subprocess
import sys

CODE = """
import sys
from astropy import units as u
from planner.optics import motion_response, star_image
star = {"seeing_fwhm": 2 * u.arcsec, "wavelength": 550 * u.nm, "aperture": 200 * u.mm,
        "image_scale": 1 * u.arcsec / u.pix}
star_image(**star).render((9, 9))
motion_response(**star)
print([name for name in ("scipy.special", "scipy.optimize", "astropy.coordinates", "pandas") if name in sys.modules])
"""


def test_a_star_needs_no_slow_library():
    done = subprocess.run([sys.executable, "-c", CODE], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
