"""Where targets stand at given times: altitude and azimuth, hour angle, parallactic angle."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
from astropy import units as u
from astropy.time import Time

from planner.rig import Site
from planner.visibility.earth_rotation import mjd_tt
from planner.visibility.kernels.air import air_at
from planner.visibility.kernels.ephemeris import altitudes_on_grid, apparent_directions, azimuths_on_grid, unit_vectors
from planner.visibility.kernels.local_frame import local_frame
from planner.visibility.target import Target


@dataclass(frozen=True)
class Places:
    """Places of targets on the sky of a site; every grid is (targets, times)."""

    times: Time
    altitude: u.Quantity[u.deg]  # true altitude (refraction left out); azimuth from north through east
    azimuth: u.Quantity[u.deg]
    apparent_altitude: u.Quantity[u.deg]  # with refraction, as airmass and horizons want it
    hour_angle: u.Quantity[u.deg]  # −180 to 180, west positive
    parallactic_angle: u.Quantity[u.deg]  # at the target, from north through east to the zenith
    declination: u.Quantity[u.deg]  # (targets,), apparent, of date


def places(targets: Iterable[Target], site: Site, times: Time) -> Places:
    """Return where targets stand at times (t,) within a few days of each other.

    `times` (t,).
    Altitudes within 1 arcsec of a full calculation for times of one night: the apparent place is taken once,
    in the middle.
    """
    targets = list(targets)
    tt = np.atleast_1d(mjd_tt(times)).ravel()
    middle = (float(tt.min()) + float(tt.max())) / 2
    frame = local_frame(site, float(tt.min()), float(tt.max()))
    ra, dec = (np.array([getattr(target, name).to_value(u.rad) for target in targets]) for name in ("ra", "dec"))
    directions = apparent_directions(unit_vectors(ra, dec), middle)
    altitude = altitudes_on_grid(directions, frame, tt)
    declination = np.arcsin(np.clip(directions[:, 2], -1, 1))
    angle = frame.angle(tt) + frame.longitude - np.arctan2(directions[:, 1], directions[:, 0])[:, np.newaxis]
    angle = np.mod(angle + np.pi, 2 * np.pi) - np.pi
    return Places(times=times, altitude=altitude * u.deg,
                  azimuth=np.degrees(azimuths_on_grid(directions, frame, tt)) * u.deg,
                  apparent_altitude=air_at(site).apparent(altitude) * u.deg, hour_angle=np.degrees(angle) * u.deg,
                  parallactic_angle=np.degrees(_parallactic_angle(angle, declination[:, np.newaxis], frame.latitude))
                  * u.deg, declination=np.degrees(declination) * u.deg)


@u.quantity_input
def altitude_factors(
    ra: u.Quantity[u.deg], dec: u.Quantity[u.deg], site: Site, times: Time
) -> tuple[np.ndarray, np.ndarray]:
    """Return directions (n, 3) of ICRS places (n,) and zeniths (t, 3) at times (t,).

    Their products are sines of true altitudes, within 1 arcsec over one night and 1 arcmin over a year.
    """
    tt = np.atleast_1d(mjd_tt(times)).ravel()
    first, last = float(tt.min()), float(tt.max())
    directions = apparent_directions(unit_vectors(ra.to_value(u.rad), dec.to_value(u.rad)), (first + last) / 2)
    return directions, local_frame(site, first, last).axis(2, tt)


@u.quantity_input
def parallactic_angle(
    hour_angle: u.Quantity[u.deg], declination: u.Quantity[u.deg], latitude: u.Quantity[u.deg]
) -> u.Quantity[u.deg]:
    r"""Return the angle at the target from north through east to the zenith.

    .. math:: \tan q = \frac{\cos\varphi \sin H}{\sin\varphi \cos\delta - \cos\varphi \sin\delta \cos H}

    Parameters
    ----------
    hour_angle, declination, latitude : Quantity [deg], shapes broadcast

    Returns
    -------
    Quantity [deg], broadcast shape
        Negative in the east, positive in the west; zero in the zenith itself.

    References
    ----------
    .. [SOFA] IAU Standards of Fundamental Astronomy, routine hd2pa.
    """
    return np.degrees(_parallactic_angle(hour_angle.to_value(u.rad), declination.to_value(u.rad),
                                         latitude.to_value(u.rad))) * u.deg


def _parallactic_angle(hour_angle: Any, declination: Any, latitude: Any) -> Any:
    """Compute `parallactic_angle` on plain floats [rad]."""
    return np.arctan2(np.cos(latitude) * np.sin(hour_angle),
                      np.sin(latitude) * np.cos(declination)
                      - np.cos(latitude) * np.sin(declination) * np.cos(hour_angle))
