"""What to buy: changes of one part, by the hours that they save on the observer's list of projects, and in a year.

Candidates are built on the rig of the list, one part changed at a time, and named by what changes; they are steps of a
size that can be bought (common practice, no source), not offers. A year is one of such projects: what share of the
list's hours a part saves, it saves of the hours that the year's clear nights offer the list.
"""

import datetime
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from astropy import units as u

from planner.cores import over_cores
from planner.exposure.guide_need import PLAIN_GUIDER
from planner.rig import Camera, Equipment, Mount, Reducer, Rig, Site, Telescope
from planner.session.advice.answer import LOWEST_ALTITUDE, depression_for
from planner.session.match.combinations import StarsAround
from planner.session.match.wishes import Served, all_hours, serve
from planner.session.worth.useful_hours import useful_hours_of
from planner.session.worth.usefulness import usefulness
from planner.sky.dark_sky import DARKEST_SKY

FULL_FRAME = (36 * u.mm, 24 * u.mm)
LARGER = 1.3
YEAR, WATCHES = 365, 4  # nights, and the parts of each in which the target that is worth most counts


@dataclass(frozen=True, kw_only=True)
class Candidate:
    """One part to buy: what could then be used beside what is owned."""

    name: str
    equipment: Equipment  # only what the new part makes possible
    rig: Rig
    site: Site


@dataclass(frozen=True, kw_only=True)
class Saving:
    """What a candidate saves."""

    name: str
    hours: float  # saved over the whole list, h
    share: float  # of the hours that the list takes with what is owned
    opened: int  # wishes that nothing owned can do
    most: str  # target on which it saves most; empty where it saves nothing
    reason: str = ""  # why it can do none of the list within the mount's rating; empty where it can


def worth_buying(equipment: Equipment, rig: Rig, site: Site, served: Sequence[Served], *,
                 stars_around: StarsAround | None = None) -> tuple[Saving, ...]:
    """Return the candidates by the hours that they save over a list already served, most first."""
    wishes = [one.wish for one in served]
    found = over_cores(lambda one: _saving(one, served, serve(one.equipment, one.rig, one.site, wishes,
                                                              stars_around=stars_around)),
                       candidates(equipment, rig, site))
    found.append(_compared("the same mount for any load", served, [one.hours(list(one.figures)) for one in served]))
    return tuple(sorted(found, key=lambda one: (-one.opened, -round(one.hours, 1), one.name)))


def year_hours(served: Sequence[Served], rig: Rig, site: Site, first: datetime.date, *, clear: float) -> float:
    """Return the useful hours [h] that a year's nights offer a list that is served.

    `first`: local date of the first evening. `clear`: share of nights that are clear.
    """
    best = np.zeros((YEAR, WATCHES))
    for band in {one.wish.band.name: one.wish.band for one in served}.values():
        found = useful_hours_of(
            [one.wish.target for one in served if one.wish.band.name == band.name], usefulness(rig, site, band), first,
            YEAR, depression=depression_for(band), minimum_altitude=LOWEST_ALTITUDE, mount=rig.mount, watches=WATCHES)
        best = np.maximum(best, found.useful_in_watch.to_value(u.h).max(axis=0))
    return clear * float(best.sum())


def _saving(candidate: Candidate, owned: Sequence[Served], then: Sequence[Served]) -> Saving:
    found = _compared(candidate.name, owned, [
        replace(new, own=old.own).hours(new.light) for old, new in zip(owned, then, strict=True)])
    if any(new.light for new in then):
        return found
    return replace(found, reason=next((row.reason for new in then for row in new.rows if row.works), ""))


def _compared(name: str, owned: Sequence[Served], then: Sequence[float]) -> Saving:
    now = [one.hours(one.light) for one in owned]
    saved = [old - min(old, new) if np.isfinite(old) else 0.0 for old, new in zip(now, then, strict=True)]
    opened = sum(not np.isfinite(old) and bool(np.isfinite(new)) for old, new in zip(now, then, strict=True))
    largest, total = int(np.argmax(saved)), all_hours(owned)
    return Saving(name=name, hours=sum(saved), share=sum(saved) / total if total > 0 else 0.0, opened=opened,
                  most=owned[largest].wish.target.name if saved[largest] > 0 else "")


def candidates(equipment: Equipment, rig: Rig, site: Site) -> tuple[Candidate, ...]:
    """Return what could be bought: optics, sensors, guiding, a calmer mount, a darker site."""
    def with_(name: str, *, changed: Rig = rig, place: Site = site, **parts: Any) -> Candidate:
        return Candidate(name=name, equipment=replace(equipment, **parts), rig=changed, site=place)

    telescope = next(one for one in equipment.telescopes if rig.telescope.name.startswith(one.name))
    found = [with_(name, telescopes=(part,), reducers=()) for name, part in _telescopes(telescope)]
    found += [with_(name, cameras=(part,)) for name, part in _cameras(rig.camera)]
    if not any(lens.factor < 1 and lens.fits(telescope) for lens in equipment.reducers):
        lens = Reducer(name="reducer 0.75", factor=0.75, telescopes=(telescope,))
        found.append(with_(f"a reducer of 0.75 for “{telescope.name}”", telescopes=(telescope,), reducers=(lens,)))
    if rig.guider is None:
        found.append(with_("a guide scope with camera", changed=replace(rig, guider=PLAIN_GUIDER)))
    found.append(with_("a mount that moves half as much", changed=replace(rig, mount=_calmer(rig.mount))))
    dark = min(site.sky_brightness + 1 * u.mag / u.arcsec**2, DARKEST_SKY)
    found.append(with_(f"a site of {dark.value:.1f} mag/arcsec²", place=replace(site, sky_brightness=dark)))
    return tuple(found)


def _telescopes(own: Telescope) -> list[tuple[str, Telescope]]:
    """Return the telescope larger, at its focal ratio and at its focal length; its mass grows with the area."""
    larger = replace(own, name="larger", aperture=own.aperture * LARGER,
                     mass=None if own.mass is None else own.mass * LARGER**2)
    size = f"{larger.aperture.to_value(u.mm):.0f} mm of aperture"
    return [(f"{size} at the focal ratio of “{own.name}”", replace(larger, focal_length=own.focal_length * LARGER)),
            (f"{size} at the focal length of “{own.name}”", larger)]


def _cameras(own: Camera) -> list[tuple[str, Camera]]:
    """Return the camera with a large sensor where its own is smaller, with finer pixels, with a quiet sensor."""
    pitch = own.pixel_pitch
    columns, rows = (int((side / pitch).to_value(u.one)) for side in FULL_FRAME)
    large = [(f"a sensor of 36 × 24 mm, pixels of {pitch.to_value(u.um):.2g} µm",
              replace(own, name="large sensor", columns=columns, rows=rows))]
    return (large if columns * rows > own.columns * own.rows else []) + [
        (f"pixels of {pitch.to_value(u.um) * 2 / 3:.2g} µm on the sensor of “{own.name}”",
         replace(own, name="fine pixels", pixel_pitch=pitch * 2 / 3, columns=own.columns * 3 // 2,
                 rows=own.rows * 3 // 2)),
        (f"a sensor like “{own.name}” of 1 electron of read noise and 90 % efficiency",
         replace(own, name="quiet sensor", read_noise=1 * u.electron, quantum_efficiency=0.9))]


def _calmer(mount: Mount) -> Mount:
    return replace(mount, jitter=mount.jitter / 2, wander=mount.wander / 2,
                   periodic=tuple(replace(term, amplitude=term.amplitude / 2) for term in mount.periodic))
