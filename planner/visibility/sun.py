"""The Sun's altitude at given times, for twilight as brightness."""

import numpy as np
from astropy import units as u
from astropy.time import Time

from planner.rig import Site
from planner.visibility.earth_rotation import mjd_tt
from planner.visibility.kernels.ephemeris import sun_track
from planner.visibility.kernels.local_frame import local_frame


def sun_altitude(site: Site, times: Time) -> u.Quantity[u.deg]:
    """Return the altitude of the Sun's centre without refraction at times (t,), up to a year in all.

    The Earth's pole is taken in their middle: it moves by less than an arcsecond.
    """
    tt = np.atleast_1d(mjd_tt(times))
    start, end = float(tt.min()), float(tt.max())
    return np.degrees(sun_track(start, end).altitude(local_frame(site, start, end), tt)) * u.deg
