"""Solved frames as what they stand for: a drift log, positions about the polar axis, sightings of a pointing run."""

from collections.abc import Sequence
from pathlib import Path

import numpy as np
from astropy import units as u
from astropy.time import Time

from planner.errors import InvalidInputError
from planner.files.frames.load import SUFFIXES, read_solved
from planner.files.frames.solved import SolvedFrame
from planner.files.logs.readers import star_moved
from planner.files.reading import InMemory
from planner.measure.drift.model import DriftLog
from planner.measure.pointing.results import PointingData
from planner.measure.polar.alignment import ground_directions, utc_times
from planner.rig import Site
from planner.rig.choices import PierSide

SAME_PLACE = 0.5  # arcsec; a header that repeats its solution this well says nothing of the mount
NEAR_MERIDIAN = 10 * u.deg  # within it a mount may be on either side (common practice, no source)


def are_frames(files: Sequence[Path | InMemory]) -> bool:
    """Return whether files are frames, by their names; several files, or a folder, must be."""
    return len(files) != 1 or files[0].name.lower().endswith(SUFFIXES)


def read_all_solved(files: Sequence[Path | InMemory]) -> list[SolvedFrame]:
    """Return solved frames in order of time; errors as in `read_solved`."""
    return sorted((read_solved(file) for file in files), key=lambda frame: frame.time_utc)


def places_of(frames: Sequence[SolvedFrame], site: Site) -> tuple[Time, u.Quantity, u.Quantity]:
    """Return times, and hour angles and declinations of date (n,) deg where the frames looked, without refraction."""
    time = utc_times([frame.time_utc for frame in frames])
    return time, *ground_directions(*_looked(frames), time, site)


def _looked(frames: Sequence[SolvedFrame]) -> tuple[u.Quantity, u.Quantity]:
    """Return right ascension and declination of the middles (n,)."""
    return u.Quantity([frame.ra for frame in frames]).to(u.deg), u.Quantity([frame.dec for frame in frames]).to(u.deg)


def frames_drift(frames: Sequence[SolvedFrame], site: Site | None) -> DriftLog:
    """Return the drift log of frames that a mount took of one field: what a star did is the other way round."""
    looked = _looked(frames)
    ra, dec = star_moved(looked[0].value, looked[1].value)
    time = utc_times([frame.time_utc for frame in frames])
    exposures = [frame.exposure.to_value(u.s) for frame in frames if frame.exposure is not None]
    hour_angle = None if site is None else places_of(frames[:1], site)[1][0]
    return DriftLog(
        time=(time - time[0]).to(u.s), ra=ra * u.arcsec, dec=dec * u.arcsec, hour_angle=hour_angle,
        declination=looked[1].mean(),
        latitude=None if site is None else site.latitude, site=None if site is None else site.name,
        exposure=float(np.median(exposures)) * u.s if exposures else None)


def frames_pointing(frames: Sequence[SolvedFrame], site: Site, pier_side: PierSide | None) -> PointingData:
    """Return the sightings of solved frames: where they looked, and the RA and DEC that the mount wrote beside.

    Raises InvalidInputError if a frame does not say what the mount displayed, or is too near the meridian to tell the
    side of the pier.
    """
    for frame in frames:
        if frame.shown is None:
            raise InvalidInputError(f"frame {frame.name}, RA and DEC", "(missing)", "must be what the mount displayed",
                                    "Have it written into the header, or write a CSV file.")
    time, hour_angle, declination = places_of(frames, site)
    written = [frame.shown for frame in frames if frame.shown is not None]
    shown = ground_directions(u.Quantity([ra for ra, _ in written]), u.Quantity([dec for _, dec in written]), time,
                              site)
    off = np.hypot((shown[0] - hour_angle) * np.cos(declination), shown[1] - declination)
    if np.all(off.to_value(u.arcsec) < SAME_PLACE):
        raise InvalidInputError("RA and DEC", "the solved place itself", "must be what the mount displayed",
                                "Take frames whose header was not changed by the solution.")
    return PointingData(
        hour_angle=hour_angle, declination=declination, mount_hour_angle=shown[0], mount_declination=shown[1],
        pier_side=tuple(pier_side or _side(frame, angle) for frame, angle in zip(frames, hour_angle, strict=True)),
        latitude=site.latitude)


def _side(frame: SolvedFrame, hour_angle: u.Quantity[u.deg]) -> str:
    """Return the side of the pier of a mount that was flipped at the meridian: east of it when it looks west."""
    if abs(hour_angle) < NEAR_MERIDIAN:
        raise InvalidInputError(f"frame {frame.name}, hour angle", f"{hour_angle.to_value(u.deg):.1f} deg",
                                "is too near the meridian to tell the side of the pier",
                                "Leave the frame out, or give --pier-side.")
    return "east" if hour_angle > 0 else "west"
