"""Targets that move against the stars: their place and pace on one night, and what that means for a sub."""

import datetime
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from astropy import units as u

from planner.rig import Site
from planner.visibility.kernels.ephemeris import AU_KM, to_intermediate
from planner.visibility.kernels.local_frame import local_frame
from planner.visibility.kernels.orbit import STALE_DAYS
from planner.visibility.target import Target

MJD_OF_ORDINAL = 678576  # MJD 0 is the proleptic ordinal of 1858-11-17
AROUND = 1 / 24  # days either side of midnight, over which the pace is taken


def placed(target: Target, site: Site, date: datetime.date) -> Target:
    """Return a moving target as it stands and moves at midnight, seen from the site; any other as it is.

    Light time and the observer's own place on the Earth count. Six hours from midnight it is off by six hours of its
    motion, by which rise and set are late or early: 24 s for one of 1 arcmin an hour.
    """
    if target.orbit is None:
        return target
    middle = date.toordinal() - MJD_OF_ORDINAL + 1 - site.longitude.to_value(u.deg) / 360
    times = middle + AROUND * np.array([-1.0, 0.0, 1.0])
    before, here, after = target.orbit.direction(times, _observer(site, times))[0]
    east = np.array([-here[1], here[0], 0.0]) / np.hypot(here[0], here[1])
    pace = np.degrees((after - before) / (2 * AROUND * 24)) * 3600
    return replace(target, ra=np.degrees(np.arctan2(here[1], here[0])) % 360 * u.deg,
                   dec=np.degrees(np.arcsin(here[2])) * u.deg, motion_ra=float(pace @ east) * u.arcsec / u.h,
                   motion_dec=float(pace @ np.cross(here, east)) * u.arcsec / u.h)


def placed_each_night(target: Target, site: Site, dates: Sequence[datetime.date]) -> list[Target]:
    """Return a moving target as it stands on each night."""
    return [placed(target, site, date) for date in dates]


def pace(target: Target) -> u.Quantity[u.arcsec / u.min]:
    """Return how fast a target moves against the stars; 0 for one that does not."""
    return np.hypot(*target.motion).to(u.arcsec / u.min)


def motion_notes(target: Target, date: datetime.date) -> tuple[str, ...]:
    """Return what to know about a moving target, as sentences; none for another."""
    if target.orbit is None:
        return ()
    speed, epoch = pace(target).value, target.orbit.epoch
    notes = [f"{target.name} moves {speed:.2g}″ a minute against the stars: its subs are judged on the target itself, "
             f"which trails by 1″ in {60 / speed:.0f} s while the mount follows the stars. Its place is that of "
             "midnight: frame anew through the night."]
    away = None if epoch is None else abs(date.toordinal() - MJD_OF_ORDINAL - epoch)
    if away is None or away > STALE_DAYS:
        known = "say nothing of their epoch" if away is None else f"are for {away:.0f} days from this night"
        notes.append(f"The elements of {target.name} {known}; the planets pull, and its place may be off by more than "
                     "the field: take newer ones.")
    return tuple(notes)


def _observer(site: Site, times: np.ndarray) -> np.ndarray:
    """Return the site from the Earth's centre along the axes of GCRS [au], (t, 3)."""
    frame = local_frame(site, float(times[0]), float(times[-1]))
    of_date = sum(frame.observer[row] * frame.axis(row, times) for row in range(3))
    return np.einsum("tji,tj->ti", to_intermediate(times), of_date) / AU_KM
