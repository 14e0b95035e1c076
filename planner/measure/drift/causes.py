"""Why a star drifted: the polar axis that explains a measured drift log, and the path that a mount's table predicts.

What the air and the rest of the mount's table do is computed with `planner.tracking.smooth_track` and taken off first.
A declination drift near the meridian tells of the azimuth of the axis, one near the east or west horizon of its
altitude; one log of some minutes therefore knows one combination of the two, and a log of hours knows both.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, Any

import numpy as np
from astropy import units as u

from planner.checks import given
from planner.constants import SIDEREAL_RATE
from planner.measure.drift.fit.periodic_terms import basis
from planner.measure.drift.fit.wander_noise import Differences, averaged
from planner.measure.drift.model import FASTER, DriftLog, DriftReport
from planner.rig import Mount
from planner.tracking import PointingTerms, smooth_track
from planner.tracking.polar_axis import STANDARD_PRESSURE, STANDARD_TEMPERATURE

# Steps of the numerical derivatives; the track is linear in both to a part in a thousand at this size.
POLAR_STEP = 1 * u.arcmin
RATE_STEP_PPM = 1000.0
# Both errors of the axis are told apart when neither is less certain than this: a fifth of common polar errors.
SEPARABLE = 1 * u.arcmin
NODES = 61


@dataclass(frozen=True, kw_only=True)
class ImpliedPolarError:
    """The polar axis that explains a declination drift; each `_uncertainty` is 1 sigma."""

    altitude_error: Annotated[u.Quantity[u.arcmin], "both at once; axis too high: positive"]
    altitude_uncertainty: Annotated[u.Quantity[u.arcmin], "of the altitude error"]
    azimuth_error: Annotated[u.Quantity[u.arcmin], "both at once; axis east of the pole: positive, an azimuth angle"]
    azimuth_uncertainty: Annotated[u.Quantity[u.arcmin], "of the azimuth error"]
    separable: Annotated[bool, "whether the log tells both apart"]
    altitude_alone: Annotated[u.Quantity[u.arcmin], "altitude error if the azimuth is as the mount's table says"]
    altitude_alone_uncertainty: Annotated[u.Quantity[u.arcmin], "of that"]
    azimuth_alone: Annotated[u.Quantity[u.arcmin], "azimuth error if the altitude is as the mount's table says"]
    azimuth_alone_uncertainty: Annotated[u.Quantity[u.arcmin], "of that"]
    least: Annotated[u.Quantity[u.arcmin], "smallest angle between axis and pole that explains the drift"]


def _hour_angles(log: DriftLog, time_s: np.ndarray) -> u.Quantity:
    """Return the hour angle at times from the first row."""
    return given(log.hour_angle) + (SIDEREAL_RATE * time_s * u.s).to(u.deg)


def track_of(log: DriftLog, mount: Mount, time_s: np.ndarray, **changes: Any) -> tuple[np.ndarray, np.ndarray]:
    """Return RA and Dec in arcsec (n,) that the mount's table predicts at times from the first row, with changes."""
    nodes_s = np.linspace(-1e-3, time_s[-1] + 1e-3, NODES)
    settings: dict[str, Any] = {
        **mount.axis,
        "rate": mount.rate, "rate_error_ppm": 0.0, "flexure_ra": mount.flexure_ra, "flexure_dec": mount.flexure_dec,
        "pointing_terms": PointingTerms(tube_flexure=mount.tube_flexure),
    }
    track = smooth_track(latitude=given(log.latitude), declination=given(log.declination),
                         hour_angle=_hour_angles(log, nodes_s), **{**settings, **changes})
    return tuple(np.interp(time_s, nodes_s, part.to_value(u.arcsec)) for part in (track.ra, track.dec))


def implied_polar_error(
    report: DriftReport, mount: Mount | None = None, *, pressure: u.Quantity = STANDARD_PRESSURE,
    temperature: u.Quantity = STANDARD_TEMPERATURE,
) -> ImpliedPolarError | None:
    """Return the polar axis that explains the declination drift of a log.

    `report`: of a log that knows its declination, hour angle and latitude. `mount`: its flexure and rate are taken off
    first, and its polar error is what the other angle is held at; a perfect mount if not given. `pressure` and
    `temperature`: of the air, for refraction.
    None if the log does not say where the star was.
    """
    log = report.log
    if not log.placed:
        return None
    mount = mount or Mount(name="perfect")
    time_s, air = report.dec.time_s, {"pressure": pressure, "temperature": temperature}
    still = track_of(log, mount, time_s, **air)[1]
    pulls = [(track_of(log, mount, time_s, **air, **{name: value + POLAR_STEP})[1] - still)
             for name, value in mount.axis.items()]
    measured = report.dec.model_arcsec + report.dec.residual_arcsec - still
    waves = basis(time_s, np.array([1 / term.period.to_value(u.s) for term in report.dec.periodic]))
    fits = [_pole_fit(report.differences, measured, [*chosen, *waves.T], len(chosen))
            for chosen in (pulls, pulls[:1], pulls[1:])]
    on_pole = track_of(log, mount, time_s, **air, polar_altitude_error=0 * u.deg, polar_azimuth_error=0 * u.deg)[1]
    return _with_units(fits, [*mount.axis.values()], report.dec.rate.to_value(FASTER) - _slope(time_s, on_pole))


def _slope(time_s: np.ndarray, track_arcsec: np.ndarray) -> float:
    """Return the mean rate of a track (n,) in arcsec/min."""
    return 60 * float(np.polynomial.Polynomial.fit(time_s, track_arcsec, 1).convert().coef[1])


def _pole_fit(differences: Differences, measured: np.ndarray, columns: list[np.ndarray], count: int) -> np.ndarray:
    """Return values and errors (2, count) of the first `count` columns, in units of `POLAR_STEP`."""
    fit = averaged(differences, np.diff(measured), np.diff(np.column_stack(columns), axis=0))
    return np.array([fit.coefficients[:count], np.sqrt(np.diag(fit.covariance)[:count])])


def _with_units(
    fits: list[np.ndarray], held: Sequence[u.Quantity], rate_arcsec_per_min: float
) -> ImpliedPolarError:
    both, altitude, azimuth = (fit * POLAR_STEP for fit in fits)
    rotation = SIDEREAL_RATE.to(u.rad / u.min, u.dimensionless_angles()).to_value(u.rad / u.min)
    return ImpliedPolarError(
        altitude_error=held[0] + both[0, 0], altitude_uncertainty=both[1, 0],
        azimuth_error=held[1] + both[0, 1], azimuth_uncertainty=both[1, 1],
        separable=bool(np.all(both[1] < SEPARABLE)),
        altitude_alone=held[0] + altitude[0, 0], altitude_alone_uncertainty=altitude[1, 0],
        azimuth_alone=held[1] + azimuth[0, 0], azimuth_alone_uncertainty=azimuth[1, 0],
        least=(abs(rate_arcsec_per_min) / rotation * u.arcsec).to(u.arcmin),
    )
