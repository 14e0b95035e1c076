"""The Sun's altitude at any moment, for the light it leaves in the sky."""

import numpy as np
from astropy import units as u
from astropy.time import Time

from planner.rig import Site
from planner.visibility.earth_rotation import mjd_tt
from planner.visibility.ephemeris import _altitude, _sun_track
from planner.visibility.frame import _frame


def sun_altitude(site: Site, times: Time) -> u.Quantity[u.deg]:
    """Return the true altitude of the Sun's centre at times (any shape) within a year of each other.

    Returns
    -------
    Quantity [deg], shape of the times
        Refraction left out, parallax included; within 1 arcsec of DE421.
    """
    tt = mjd_tt(times)
    flat = np.atleast_1d(tt).ravel()
    start, end = float(flat.min()), float(flat.max())
    local = _sun_track(start, end).local(_frame(site, start, end), flat)
    return np.degrees(_altitude(local)).reshape(tt.shape) * u.deg
