"""The place: where it is, whether its clock fits, how dark and how steady its sky is, and what stands in the way."""

import datetime
from collections.abc import Iterator
from dataclasses import dataclass
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np
from astropy import units as u

from planner.checks import Model, plain, quantity
from planner.errors import InvalidInputError
from planner.rig.figures import Figures

LARGEST_CLOCK_ERROR_H = 4.5
DATE_LINE_DEG = 150  # no clock east of the date line by its longitude and west by its date is nearer to Greenwich


@dataclass(frozen=True, kw_only=True)
class HorizonProfile(Model):
    """The observer's own horizon: apparent altitude of the skyline by azimuth.

    Between two points the skyline is a straight line; two points at one azimuth are a wall. The profile closes
    on itself over north.
    """

    azimuth: u.Quantity[u.deg] = quantity("deg", at_least=0, at_most=360,
                                          remedy="Count azimuth from north through east, 0 to 360 deg.")
    altitude: u.Quantity[u.deg] = quantity("deg", at_least=-10, at_most=90,
                                           remedy="Give the apparent altitude of the skyline.")

    def faults(self) -> Iterator[InvalidInputError]:
        """Yield what keeps these from being points of a skyline."""
        if self.azimuth.ndim != 1 or self.azimuth.shape != self.altitude.shape or self.azimuth.size == 0:
            yield InvalidInputError("horizon", f"{self.azimuth.shape} azimuths, {self.altitude.shape} altitudes",
                                    "must be pairs of azimuth and altitude", "Give one altitude per azimuth.")
        elif np.any(np.diff(self.azimuth.value) < 0):
            yield InvalidInputError("horizon azimuth", self.azimuth, "must not decrease", "Sort the points by azimuth.")


@dataclass(frozen=True, kw_only=True)
class Site(Figures):
    """A place to observe from."""

    name: str = plain("text", remedy="Name the site.")
    latitude: u.Quantity[u.deg] = quantity("deg", at_least=-90, at_most=90, meaning="north positive",
                                           remedy="Give the geodetic latitude, south negative.")
    longitude: u.Quantity[u.deg] = quantity("deg", at_least=-180, at_most=360, meaning="east positive",
                                            remedy="Give the longitude, east positive.")
    height: u.Quantity[u.m] = quantity("m", default="0 m", at_least=-450, at_most=6500,
                                       meaning="above sea level", remedy="Give the height above sea level.")
    time_zone: str = plain("text", default="UTC", remedy="Give a name of the time-zone database, e.g. UTC.")
    sky_brightness: u.Quantity[u.mag / u.arcsec**2] = quantity(
        "mag/arcsec2", default="21 mag/arcsec2", at_least=14, at_most=22.5,
        meaning="V, zenith, no Moon", remedy="Give the V brightness at the zenith on a moonless night, 14 to 22.5.")
    seeing: u.Quantity[u.arcsec] = quantity(
        "arcsec", default="2.5 arcsec", at_least=0.1, at_most=20, meaning="FWHM, zenith, 500 nm",
        remedy="Give the full width at half maximum of a long exposure at the zenith.")
    seeing_spread: float = plain(
        "number", default=0.15, at_least=0, at_most=1,
        meaning="standard deviation of the seeing's logarithm over your nights (common practice, no source)",
        remedy="Give a share, e.g. 0.15: two subs in three within 15 % of the seeing.")
    temperature: u.Quantity[u.deg_C] = quantity("deg_C", default="10 deg_C", at_least=-80, at_most=60,
                                                meaning="of the night air")
    pressure: u.Quantity[u.hPa] | None = quantity(
        "hPa", default=None, more_than=300, at_most=1100,
        meaning="at the site; standard for its height if absent", remedy="Give the pressure at the site itself.")
    disturbance_interval: u.Quantity[u.h] = quantity(
        "h", default="3 h", at_least=0.01,
        meaning="mean time between gusts, aircraft or clouds that spoil a frame (common practice, no source)",
        remedy="Give the mean time between spoiled moments.")
    horizon: HorizonProfile | None = plain("other", default=None, optional=True, meaning="the observer's skyline")

    def faults(self) -> Iterator[InvalidInputError]:
        """Yield a time zone that nobody knows."""
        try:
            ZoneInfo(self.time_zone)
        except (ZoneInfoNotFoundError, ValueError, OSError):
            yield InvalidInputError("time_zone", self.time_zone, "must be a name of the time-zone database",
                                    "Write it like Europe/Rome or UTC.")

    @property
    def station_pressure(self) -> u.Quantity[u.hPa]:
        """Pressure at the site: as given, or that of the ISO standard atmosphere at its height.

        References
        ----------
        .. [ISO2533] ISO 2533:1975: p = 1013.25 (1 - 0.0065 h / 288.15)^5.25588 below 11 km.
        """
        if self.pressure is not None:
            return self.pressure
        return 1013.25 * (1 - 0.0065 * self.height.to_value(u.m) / 288.15) ** 5.25588 * u.hPa


def clock_problem(site: Site, now: datetime.datetime) -> str:
    """Return a sentence if the clock of the site cannot be that of its longitude, empty if it can.

    Clocks in use stay within about three hours of the Sun, four in summer; one that is further off names another night
    "tonight".
    """
    offset = now.astimezone(ZoneInfo(site.time_zone)).utcoffset() or datetime.timedelta()
    longitude = (site.longitude.to_value("deg") + 180) % 360 - 180
    late = offset / datetime.timedelta(hours=1) - longitude / 15
    if abs(longitude) > DATE_LINE_DEG:  # islands there keep the date of the other side
        late = (late + 12) % 24 - 12
    if abs(late) <= LARGEST_CLOCK_ERROR_H:
        return ""
    return (f'Site "{site.name}": time_zone = {site.time_zone} and longitude = {longitude:+.1f} deg do not belong '
            f"together: that clock is {abs(late):.1f} h {'ahead of' if late > 0 else 'behind'} the Sun, so tonight may "
            "be taken for another night. Correct one of them (east is positive).")
