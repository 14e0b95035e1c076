"""How often stated errors hold: ``python tests/measure/coverage.py [logs per regime] [first] [regime ...]``.

Drift logs, polar axes and pointing terms of mounts drawn by numpy alone (`star_paths` turns the tube for logs). A
table is printed: of each figure in each regime the share within one and two stated errors; one holds in 68 % of cases,
and 60 to 76 % pass. Errors of rates and polar axis leave room for a wander that hides: where there is none at all they
are bounds, and said to be too wide. Frames: `stars/coverage.py`; figures of a mount's table: `posterior/coverage.py`.
"""

import sys
from pathlib import Path

import numpy as np
from astropy import units as u

if __name__ == "__main__":
    sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[2])]

from measure import closed_loop, star_paths
from published.test_pointing_terms import FIRST_ORDER

from planner.measure.drift.causes import implied_polar_error
from planner.measure.drift.report import analyse_drift
from planner.measure.pointing.fit import fit_pointing
from planner.measure.pointing.results import PointingData
from planner.measure.polar.alignment import alignment_from_positions
from planner.measure.polar.drift import DriftRun, alignment_from_drift

PASSES = 0.60, 0.76
BOUND = ", at most"  # the share of all logs in which a wander is shown or lies below its bound
NOTHING_HIDES = ", too wide"  # of mounts without wander
# Minutes, seconds between rows, seconds averaged, wander (arcsec in a minute), jitter, worm.
DRIFTS = {
    "10 min of 1 s": (10, 1, 1, 0.25, 0.25, (120.0, 3.0)), "10 min, slow": (10, 1, 1, 0.25, 0.25, (480.0, 6.0)),
    "20 frames of 30 s": (10, 30, 30, 0.25, 0.25, (150.0, 4.0)),
    "60 min of 2 s": (60, 2, 1, 0.25, 0.25, (480.0, 5.0)), "quiet": (60, 4, 1, 0.02, 0.1, (480.0, 2.0)),
    "no wander": (30, 2, 1, 0.0, 0.25, (300.0, 3.0)), "restless": (60, 4, 1, 1.5, 0.3, (300.0, 8.0)),
    "long": (180, 10, 2, 0.25, 0.25, (480.0, 5.0)),
}
POINTINGS = {"8 stars": (8, 0.0), "8 stars, one wrong": (8, 120.0), "12 stars": (12, 0.0), "12, one wrong": (12, 120.0),
             "20 stars": (20, 0.0), "60 stars": (60, 0.0), "30 stars, one wrong": (30, 120.0)}
POLARS = {f"{count} positions": count for count in (3, 4, 5, 6, 9)}


def drift_log(shape, seed):
    """Return by figure (value - truth)/error of one log."""
    minutes, step, exposure, wander, jitter, (period, size) = shape
    rng = np.random.default_rng([seed, 5])
    size, period = size * np.exp(0.4 * rng.normal()), period * np.exp(0.1 * rng.normal())
    faults = star_paths.CLEAN | {"altitude": 3 * rng.normal(), "azimuth": 3 * rng.normal(), "ppm": 40 * rng.normal()}
    time, *paths = star_paths.motion(rng, minutes, periodic=((period, size),), wander=wander, jitter=jitter,
                                     faults=faults)
    report = analyse_drift(star_paths.rows(rng, time, paths, step=step, exposure=exposure))
    still = star_paths.motion(rng, minutes, periodic=(), wander=0, jitter=0, faults=faults)[1:]
    found, room = {}, "" if wander > 0 else NOTHING_HIDES
    for axis, path, name in ((report.ra, still[0], "RA"), (report.dec, still[1], "Dec")):
        used = report.ra.time_s / 1.0
        slope = 60 * np.polynomial.Polynomial.fit(used, np.interp(used, time, path), 1).convert().coef[1]
        shown = axis.wander_bound is None
        found[f"rate {name}{room}"] = (axis.rate.value - slope) / axis.rate_error.value
        if shown:
            found[f"wander {name}"] = (axis.wander.value - wander) / axis.wander_error.value
        found[f"wander {name}{BOUND}"] = 0.0 if shown else 3.0 * (wander > axis.wander_bound.value)
        white = np.hypot(jitter, 0.3) / np.sqrt(exposure)
        if axis.jitter > 2 * axis.jitter_error:  # else it is told as a bound
            found[f"jitter {name}"] = (axis.jitter.value - white) / axis.jitter_error.value
    near = [term for term in report.ra.periodic if abs(np.log(term.period.value / period)) < 0.2]
    if near:
        term, true = near[0], size * np.cos(np.radians(star_paths.PLACE["declination"]))
        found["amplitude"] = (term.amplitude.value - true) / term.amplitude_error.value
        found["period"] = (term.period.value - period) / term.period_error.value
    axis = implied_polar_error(report)
    for name in ("altitude", "azimuth"):
        off = getattr(axis, f"{name}_error").value - faults[name]
        found[f"polar {name}{room}"] = off / getattr(axis, f"{name}_uncertainty").value
    return found


def sky_places(rng, count):
    """Return hour angles and declinations in radians and the sides of the pier of stars well spread over the sky."""
    side = np.where(np.arange(count) % 2, 1, -1)
    return side * np.radians(rng.uniform(5, 75, count)), np.arcsin(rng.uniform(-0.3, 0.9, count)), -side


def pointing(shape, seed):
    """Return by term (value - truth)/error of one set of sightings, each good to 3 arcsec."""
    count, wrong = shape
    rng = np.random.default_rng([seed, 6])
    terms = {name: 60 * rng.normal() for name in FIRST_ORDER}
    hour, dec, side = sky_places(rng, count)
    latitude = np.radians(47.0)
    shift = sum(size * np.array(FIRST_ORDER[name](hour, dec, latitude, side)) for name, size in terms.items())
    off = 3 * rng.normal(size=(2, count))
    off[:, 0] += wrong * np.array([np.cos(angle := rng.uniform(0, 2 * np.pi)), np.sin(angle)])
    mount = np.array([hour, dec]) + np.radians((shift + off / [np.cos(dec), np.ones(count)]) / 3600)
    data = PointingData(
        hour_angle=hour * u.rad, declination=dec * u.rad, mount_hour_angle=mount[0] * u.rad,
        mount_declination=mount[1] * u.rad, latitude=latitude * u.rad,
        pier_side=tuple("east" if one > 0 else "west" for one in side))
    fit = fit_pointing(data)
    return {term.name: (term.value.value - terms[term.name]) / term.error.value for term in fit.terms
            if term.separable}


def positions(count, seed):
    """Return altitude and azimuth of an axis from solved positions good to some 2 arcsec, likewise."""
    rng = np.random.default_rng([seed, 7])
    true = {"altitude": 20 * rng.normal(), "azimuth": 20 * rng.normal()}
    text = closed_loop.solved_positions(true, seed, latitude=47.0, declination=rng.uniform(-10, 70), air=1.0,
                                        hour_angles=np.linspace(-60, 20, count), error=2 * np.exp(0.4 * rng.normal()))
    hour, dec = np.array([line.split(",") for line in text.split("\n")[2:-1]], float).T
    axis = alignment_from_positions(hour * u.deg, dec * u.deg, latitude=47 * u.deg)
    return {name: (getattr(axis, f"{name}_error").value - true[name]) / getattr(axis, f"{name}_uncertainty").value
            for name in true}


def two_drifts(minutes, seed):
    """Return the same from the declination rates of two stars, each known to 0.05 arcsec/min."""
    rng = np.random.default_rng([seed, 8])
    true = {"altitude": 20 * rng.normal(), "azimuth": 20 * rng.normal()}
    runs, time = [], np.linspace(0, 60 * minutes, 30)
    for hour, dec in ((rng.uniform(-15, 15), rng.uniform(-5, 10)), (-rng.uniform(60, 80), rng.uniform(10, 30))):
        north = closed_loop.smooth_path(star_paths.CLEAN | true, latitude=np.radians(47.0), declination=np.radians(dec),
                                        hour_angle=np.radians(hour), time=time, air=1.0)[1]
        rate = (north[-1] - north[0]) / minutes + 0.05 * rng.normal()
        runs.append(DriftRun(hour_angle=hour * u.deg, declination=dec * u.deg, duration=minutes * u.min,
                             dec_rate=rate * u.arcsec / u.min, dec_rate_error=0.05 * u.arcsec / u.min))
    axis = alignment_from_drift(runs, latitude=47 * u.deg)
    return {name: (getattr(axis, f"{name}_error").value - true[name]) / getattr(axis, f"{name}_uncertainty").value
            for name in true}


REGIMES = {**{name: (drift_log, shape) for name, shape in DRIFTS.items()},
           **{name: (pointing, shape) for name, shape in POINTINGS.items()},
           **{name: (positions, shape) for name, shape in POLARS.items()}, "two drifts": (two_drifts, 8)}


def deviations(name, seeds):
    """Return by figure the (value - truth)/error of a regime, arrays of those that were stated."""
    found = {}
    kind, shape = REGIMES[name]
    for seed in seeds:
        for key, off in kind(shape, seed).items():
            found.setdefault(key, []).append(float(off))
    return {key: np.array(off) for key, off in found.items()}


if __name__ == "__main__":
    numbers = [int(word) for word in sys.argv[1:] if word.isdigit()]
    number, first = (*numbers, *(200, 0)[len(numbers):])[:2]
    names = [word for word in sys.argv[1:] if not word.isdigit()] or list(REGIMES)
    for regime in names:
        for figure, off in deviations(regime, range(first, first + number)).items():
            most = 1.0 if figure.endswith((BOUND, NOTHING_HIDES)) else PASSES[1]
            one, two = np.mean(np.abs(off) < 1), np.mean(np.abs(off) < 2)
            print(f"{regime:20s} {figure:22s} {off.size:4d}: {one:4.0%} {two:4.0%}, mean {off.mean():+.2f}, rms "
                  f"{np.sqrt(np.mean(off**2)):.2f}{'' if PASSES[0] <= one <= most else '  outside'}", flush=True)
