"""When each target can be worked on, by how dark a filter wants it, on which side of the pier; and the slots."""

import datetime
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from astropy import units as u
from astropy.time import Time

from planner.rig import Filter, Rig, Site
from planner.rig.choices import PierSide
from planner.session.advice.answer import depression_for
from planner.session.worth.times import FLIP_MARGIN
from planner.visibility import MeridianPlan, Night, TargetWindow, meridian_plan, night
from planner.visibility.darkness import DARKEST
from planner.visibility.earth_rotation import mjd_tt

# Where the telescope is; a mount without sides uses the first place alone.
SIDES: tuple[PierSide, PierSide] = ("west", "east")
SAME = 1e-6  # days: two moments that are one
CONSTRAINED = "Observable, but your own constraints leave no time."
ELSEWHEN = "Observable, but not between the start and the end that you set."
LEAST_SHARE = 0.5  # of a slot that must be usable: less is left over


@dataclass(frozen=True, kw_only=True)
class Stretch:
    """From when to when (MJD in TT) one side of the pier follows a target in the dark; side is its place in SIDES."""

    side: int
    start: float
    end: float
    opens: float = -np.inf  # when the mount may turn to this side, where that is not before the target can be seen


@dataclass(frozen=True, kw_only=True)
class Reach:
    """One target at one depth of the Sun."""

    window: TargetWindow
    meridian: MeridianPlan
    stretches: tuple[Stretch, ...]
    reason: str = ""  # why no stretch is left of the window, if something else than the mount took them


@dataclass(frozen=True, kw_only=True)
class Slots:
    """Equal pieces of the night; edges are MJD in TT, (slots + 1,)."""

    edges: np.ndarray

    def __len__(self) -> int:
        return len(self.edges) - 1

    @property
    def middles(self) -> np.ndarray:
        """MJD in TT, (slots,)."""
        return (self.edges[1:] + self.edges[:-1]) / 2

    @property
    def length(self) -> float:
        """Days."""
        return float(self.edges[1] - self.edges[0])

    def at(self, tt: float) -> int:
        """Return the slot that holds a moment; the first or last one outside."""
        return int(np.clip((tt - self.edges[0]) // self.length, 0, len(self) - 1))

    def share(self, stretches: tuple[Stretch, ...], side: int) -> np.ndarray:
        """Return the share of each slot that a side can use, (slots,); 0 where it is too little."""
        share = np.zeros(len(self))
        for stretch in stretches:
            if stretch.side == side:
                inside = np.minimum(self.edges[1:], stretch.end) - np.maximum(self.edges[:-1], stretch.start)
                share += np.maximum(inside, 0) / self.length
        return np.where(share >= LEAST_SHARE, np.minimum(share, 1), 0)


def nights_for(depths: Iterable[float], site: Site, date: datetime.date) -> dict[float, Night]:
    """Return the night at each depth of the Sun [deg], the darkest last."""
    return {at: night(site, date, depression=at * u.deg, least=DARKEST) for at in sorted(set(depths))}


def depth(band: Filter) -> float:
    """Return how deep the Sun must be for a filter [deg]."""
    return float(depression_for(band).to_value(u.deg))


def slots_of(nights: dict[float, Night], length: u.Quantity[u.min]) -> Slots | None:
    """Return the slots from the first dusk to the last dawn; None if it never gets dark."""
    spans = [dark for dark in (found.dark for found in nights.values()) if dark is not None]
    if not spans:
        return None
    start, end = min(float(mjd_tt(span[0])) for span in spans), max(float(mjd_tt(span[1])) for span in spans)
    days = length.to_value(u.day)
    return Slots(edges=start + days * np.arange(int(np.ceil((end - start) / days - 1e-6)) + 1))


def reach(window: TargetWindow, rig: Rig, margin: u.Quantity[u.min] = FLIP_MARGIN) -> Reach:
    """Return when a target can be worked on in one night; `margin` stays free before the mount must stop."""
    meridian = meridian_plan(window, rig.mount)
    ends = [end for _, end in window.spans]
    stretches = []
    for part in meridian.stretches:
        start, end = part.start_tt, part.end_tt
        if all(abs(end - other) > SAME for other in ends):  # the mount's limit, not the window's end
            end -= margin.to_value(u.day)
        if end > start:
            stretches.append(Stretch(side=SIDES.index(part.side) if part.side else 0, start=start, end=end,
                                     opens=start if part.opens else -np.inf))
    return Reach(window=window, meridian=meridian, stretches=tuple(stretches))


def allowed(found: Reach, times: Sequence[tuple[Time, Time]]) -> Reach:
    """Return a reach whose stretches keep to the times that an observer's own constraints allow, in their order."""
    spans = [(float(mjd_tt(start)), float(mjd_tt(end))) for start, end in times]
    parts = [replace(part, start=max(part.start, start), end=min(part.end, end))
             for part in found.stretches for start, end in spans]
    kept = tuple(part for part in parts if part.start < part.end)
    return replace(found, stretches=kept, reason=CONSTRAINED if found.stretches and not kept else "")


def within(found: Reach, session: tuple[Time | None, Time | None]) -> Reach:
    """Return a reach whose stretches keep to a session: from when, and until when, if given."""
    begin, end = (None if moment is None else float(mjd_tt(moment)) for moment in session)
    if begin is None and end is None:
        return found
    parts = [replace(part, start=part.start if begin is None else max(part.start, begin),
                     end=part.end if end is None else min(part.end, end)) for part in found.stretches]
    kept = tuple(part for part in parts if part.start < part.end)
    return replace(found, stretches=kept, reason=ELSEWHEN if found.stretches and not kept else found.reason)
