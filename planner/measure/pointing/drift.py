"""The tracking drift that a fitted pointing model implies along a target's path."""

from dataclasses import dataclass
from typing import Annotated

import numpy as np
from astropy import units as u

from planner.constants import SIDEREAL_RATE
from planner.measure.pointing.results import HarmonicTerm, PointingFit
from planner.rig.choices import PierSide
from planner.tracking import smooth_track

NO_AIR = 0 * u.hPa
STEP, REACH = 15.0, 75.0  # deg of hour angle between drift rates, and to either side of the meridian
HALF_WINDOW = 1.0  # deg of hour angle either side, four minutes, over which a rate is taken


@dataclass(frozen=True)
class DriftRates:
    """Drift of the star on the sensor: ra east, dec north, arcsec/h, (n,) each."""

    ra: u.Quantity
    dec: u.Quantity


@dataclass(frozen=True, kw_only=True)
class PathRate:
    """The drift of a target at one place of its path."""

    hour_angle: Annotated[u.Quantity[u.deg], "of the target, west positive"]
    pier_side: Annotated[str, "side of the pier on which the telescope is"]
    ra: Annotated[u.Quantity[u.arcsec / u.h], "drift of the star, east positive"]
    dec: Annotated[u.Quantity[u.arcsec / u.h], "drift of the star, north positive"]


@dataclass(frozen=True, kw_only=True)
class PathDrift:
    """The drift of a target along its path, on both sides of the pier."""

    drift: Annotated[tuple[PathRate, ...], "that the model implies along the target's path"]


def drift_rates(
    fit: PointingFit, *, declination: u.Quantity, hour_angle: u.Quantity, pier_side: PierSide = "east",
) -> DriftRates:
    """Return the drift that a model's seven terms imply at each hour angle (n,) along a target's path, without air."""
    around = np.array([-HALF_WINDOW, HALF_WINDOW]) * u.deg
    turn = (2 * HALF_WINDOW * u.deg / SIDEREAL_RATE).to(u.h)
    tracks = [smooth_track(latitude=fit.latitude, declination=declination, hour_angle=h + around, pier_side=pier_side,
                           pressure=NO_AIR, pointing_terms=fit.model) for h in hour_angle]
    ra, dec = (u.Quantity([getattr(track, axis)[-1] for track in tracks]) / turn for axis in ("ra", "dec"))
    return DriftRates(ra.to(u.arcsec / u.h), dec.to(u.arcsec / u.h))


def path_drift(fit: PointingFit, declination: u.Quantity, *, step: float = STEP) -> PathDrift:
    """Return the drift of a target along its path by the model; `step` (deg) lies between hour angles."""
    rows: list[PathRate] = []
    begins: dict[PierSide, float] = {"west": -REACH, "east": 0.0}
    for side, first in begins.items():
        hour_angle = np.arange(first, first + REACH + 0.1, step) * u.deg
        rates = drift_rates(fit, declination=declination, hour_angle=hour_angle, pier_side=side)
        rows += [PathRate(hour_angle=h, pier_side=side, ra=ra, dec=dec)
                 for h, ra, dec in zip(hour_angle, rates.ra, rates.dec, strict=True)]
    return PathDrift(drift=tuple(rows))


def harmonic_drift(harmonics: tuple[HarmonicTerm, ...]) -> u.Quantity:
    """Return the fastest drift in RA, arcsec/h on the equator, that errors of the turning polar axis can add up to.

    A sine of k turns and amplitude a drifts by at most a k times the axis' rate. The declination axis stands still
    while the mount tracks: its errors only shift the place.
    """
    rate = SIDEREAL_RATE.to_value(u.rad / u.h)
    sizes = [term.per_turn * np.hypot(term.sine.to_value(u.arcsec), term.cosine.to_value(u.arcsec))
             for term in harmonics if term.axis == "polar"]
    return rate * sum(sizes) * u.arcsec / u.h
