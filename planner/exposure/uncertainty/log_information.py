r"""What a drift log of some length can tell: the information in its rows about each figure of the mount.

Rows err by the air and by the mount's jitter, both new in each row, and by its wander, a random walk. About their mean
(start, rate, cosine and sine of each periodic term) the information is that of weighted least squares; about the noises
themselves it is that of a Gaussian process,

.. math:: I_{ij} = \tfrac12 \mathrm{tr}\left(C^{-1} \partial_i C\, C^{-1} \partial_j C\right)

where the air's share is a third unknown. Declination tells one angle of the polar axis: how fast the star drifts.
"""

from dataclasses import dataclass

import numpy as np
from astropy import units as u

from planner.constants import SIDEREAL_DAY
from planner.rig import Mount

ROW_S = 2.0  # a row; rows are averaged to at most ROWS, which the slow figures do not notice
ROWS = 120
AIR_KNOWN = 0.3  # standard deviation of the logarithm of the air's image motion
RATE_KNOWN = 1.0  # arcsec/min, of the drift before the log
AXES = 2
TURN_PER_MIN = 2 * np.pi * 60 / SIDEREAL_DAY.to_value(u.s)  # rad; arcsec of drift per minute and arcsec of the axis


@dataclass(frozen=True, kw_only=True)
class LogErrors:
    """Standard errors of what a log would find."""

    amplitudes: np.ndarray  # (m,), of each periodic term, relative
    jitter: float  # relative; infinite where there is none
    wander: float  # relative; infinite where there is none
    drift: float  # of the declination's rate, arcsec/min
    drift_per_arcmin: np.ndarray  # (2,), arcsec/min per arcmin of polar altitude and azimuth error


def log_errors(mount: Mount, minutes: float, *, air_rms: u.Quantity[u.arcsec], hour_angle: u.Quantity[u.deg],
               latitude: u.Quantity[u.deg]) -> LogErrors:
    """Return what a log of a star on the celestial equator would leave open of a mount.

    `minutes`: length of the log. `air_rms`: image motion of the air in one row, per axis. `hour_angle` and `latitude`:
    where the star stands, and the site.
    """
    count = int(np.clip(minutes * 60 / ROW_S, 8, ROWS))
    time = (np.arange(count) + 0.5) * minutes / count  # min
    rows = minutes * 60 / ROW_S / count  # averaged into one
    jitter, air = mount.jitter.to_value(u.arcsec), air_rms.to_value(u.arcsec)
    walk = mount.wander.to_value(u.arcsec / u.min**0.5) ** 2 * np.minimum.outer(time, time)
    white = np.eye(count) * (jitter**2 + air**2) / rows
    weight = np.linalg.inv(walk + white + 1e-9 * np.eye(count))
    hour, phi = hour_angle.to_value(u.rad), latitude.to_value(u.rad)
    jitter_error, wander_error = _noise_errors(weight, walk, jitter**2 / rows, air**2 / rows)
    return LogErrors(
        amplitudes=_amplitude_errors(mount, weight, time), jitter=jitter_error, wander=wander_error,
        drift=float(np.sqrt(_covariance([time], weight)[1, 1])),
        drift_per_arcmin=60 * TURN_PER_MIN * np.array([np.sin(hour), np.cos(phi) * np.cos(hour)]))


def _covariance(columns: list[np.ndarray], weight: np.ndarray) -> np.ndarray:
    """Return the covariance of a fit of a start and these columns, the first a rate known to RATE_KNOWN."""
    design = np.stack([np.ones(len(weight)), *columns], axis=1)
    information = design.T @ weight @ design
    information[1, 1] += RATE_KNOWN**-2
    return np.linalg.pinv(information, rcond=1e-12, hermitian=True)


def _amplitude_errors(mount: Mount, weight: np.ndarray, time: np.ndarray) -> np.ndarray:
    """Return the relative error of each term's amplitude, in the mean over its phase."""
    terms = [term for term in mount.periodic if term.amplitude > 0]
    if not terms:
        return np.zeros(0)
    angles = [2 * np.pi * time / term.period.to_value(u.min) for term in terms]
    waves = [wave(angle) for angle in angles for wave in (np.cos, np.sin)]
    variance = np.diag(_covariance([time, *waves], weight))[2:].reshape(-1, 2).mean(axis=1)
    return np.sqrt(variance) / np.array([term.amplitude.to_value(u.arcsec) for term in terms])


def _noise_errors(weight: np.ndarray, walk: np.ndarray, jitter_variance: float, air_variance: float
                  ) -> tuple[float, float]:
    """Return the relative errors of jitter and wander, the air's share unknown beside them."""
    slopes = [2 * jitter_variance * weight, 2 * weight @ walk, 2 * air_variance * weight]
    fisher = AXES / 2 * np.array([[np.sum(one * other.T) for other in slopes] for one in slopes])
    fisher[2, 2] += AIR_KNOWN**-2
    there = np.array([jitter_variance > 0, bool(np.any(walk)), True])
    errors = np.full(3, np.inf)
    errors[there] = np.sqrt(np.diag(np.linalg.inv(fisher[np.ix_(there, there)])))
    return float(errors[0]), float(errors[1])
