"""Logs of stars second by second: unguided, guided, dithered, through a turned camera, in slow air.

Nothing of the planner's tracking or fitting is used: `closed_loop` turns the tube, the rest is arithmetic.
"""

import numpy as np
from astropy import units as u
from measure import closed_loop

from planner.measure.drift.model import DriftLog

PLACE = {"latitude": 47.0, "declination": 10.0, "hour_angle": -15.0}  # deg
CLEAN = {"altitude": 2.0, "azimuth": -1.5, "rate": "sidereal", "ppm": 40.0, "flexure_ra": 0.0, "flexure_dec": 0.0}


def motion(rng, minutes, *, periodic=((480.0, 5.0),), wander=0.25, jitter=0.25, faults=CLEAN):
    """Return time (s) and where an unguided star goes, east and north, each second (arcsec); noise is the mount's."""
    time = np.arange(0, minutes * 60, 1.0)
    east, north = closed_loop.smooth_path(faults, time=time, air=1.0, **{
        name: np.radians(value) for name, value in PLACE.items()})
    drive = sum(size * np.sin(2 * np.pi * (time / period + rng.uniform())) for period, size in periodic)
    axes = []
    for path in (east + drive * np.cos(np.radians(PLACE["declination"])), north):
        path = path + np.cumsum(wander / 60**0.5 * rng.normal(size=time.size))
        axes.append(path + jitter * rng.normal(size=time.size))
    return time, *axes


def guided(rng, paths, *, gain=0.5, exposure=2, centroid=0.3):
    """Return the same paths while a loop of integrated corrections holds them, a guide exposure behind."""
    held = []
    for path in paths:
        correction, left = 0.0, np.empty(path.size)
        for start in range(0, path.size, exposure):
            rows = slice(start, start + exposure)
            left[rows] = path[rows] + correction
            correction -= gain * (left[rows].mean() + centroid * rng.normal())
        held.append(left)
    return held


def rows(rng, time, paths, *, step=1, exposure=1, centroid=0.3):
    """Return a log of rows `step` seconds apart that average `exposure` seconds."""
    whole = time.size // step * step
    columns = [path[:whole].reshape(-1, step)[:, :exposure].mean(axis=1) for path in paths]
    count = columns[0].size
    noise = centroid / exposure**0.5 * rng.normal(size=(2, count))
    return DriftLog(
        time=(np.arange(count) * step + exposure / 2) * u.s, ra=(columns[0] + noise[0]) * u.arcsec,
        dec=(columns[1] + noise[1]) * u.arcsec, declination=PLACE["declination"] * u.deg,
        hour_angle=PLACE["hour_angle"] * u.deg, latitude=PLACE["latitude"] * u.deg, exposure=exposure * u.s)


def slow_air(rng, count, *, rms=0.3, memory=12.0):
    """Return motion that the air forgets after some seconds, (count,): a first-order autoregression each second."""
    keep = np.exp(-1 / memory)
    steps, path = rms * np.sqrt(1 - keep**2) * rng.normal(size=count), np.zeros(count)
    for index in range(1, count):
        path[index] = keep * path[index - 1] + steps[index]
    return path
