"""The Sun's altitude at given times: twilight as brightness, and whether a night is over."""

import datetime

import numpy as np
from astropy import units as u
from astropy.time import Time

from planner.rig import Site
from planner.visibility.clock import evening_date, mean_midnight
from planner.visibility.darkness import SUNSET_DEG
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


def night_to_plan(now: datetime.datetime, site: Site) -> datetime.date:
    """Return the local date of the evening that names the night now running, or once the Sun has risen the coming one.

    `now`: a moment with its time zone. `site`: gives clock and place. Where the Sun never rises a night ends at noon,
    where it never sets at midnight.
    """
    moment, evening, day = Time(now), evening_date(now, site), datetime.timedelta(days=1)
    night = next(night for night in (evening + day, evening, evening - day)
                 if mean_midnight(site, night) < moment.utc.mjd + 0.5)
    over = mean_midnight(site, night) < moment.utc.mjd and sun_altitude(site, moment)[0].to_value(u.deg) > SUNSET_DEG
    return night + over * day
