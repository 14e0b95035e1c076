"""What an observer sets for one night: its filters, its hours, and how near the Moon may stand to a filter's targets.

The Moon counts as brightness in every plan; a distance kept from it is an observer's own wish on top.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from astropy import units as u
from astropy.time import Time

from planner.checks import Rule, check
from planner.errors import InvalidInputError
from planner.rig import Rig, Site
from planner.session.night.slots.windows import Stretch
from planner.session.projects.default_request import default_needs, kind_of_object
from planner.session.projects.request import Request
from planner.visibility import Target, clock_text, moon, utc_time

MOON_DISTANCE = Rule(unit=u.deg, more_than=0, at_most=180, remedy="Give degrees from the Moon, e.g. 60.")
STEP = 5 / 1440  # days: between its points the Moon's way is straight to 0.01 deg, a second of time


@dataclass(frozen=True, kw_only=True)
class NightLimits:
    """An observer's own for one night; `moon` is by filter, kept while the Moon is above the horizon."""

    begin: Time | None = None  # of the first frame; dusk if None
    until: Time | None = None  # by when the last frame ends; dawn if None
    moon: Mapping[str, u.Quantity[u.deg]] = field(default_factory=dict)

    def checked(self, rig: Rig, site: Site) -> "NightLimits":
        """Return the limits as the rig spells its filters; refuse an end before the start."""
        if self.begin is not None and self.until is not None and not self.begin < self.until:
            raise InvalidInputError("session", f"{clock_text(self.begin, site)} to {clock_text(self.until, site)}",
                                    "must end after it begins", "Give an earlier start or a later end.")
        return self.of_rig(rig)

    def of_rig(self, rig: Rig) -> "NightLimits":
        """Return the limits with filters spelled as the rig does; refuse one that it does not have."""
        names = {band.name.lower(): band.name for band in rig.filters}
        for name in self.moon:
            if name.lower() not in names:
                raise InvalidInputError("distance from the Moon", name, f'is no filter of the rig "{rig.name}"',
                                        f"Name one of {', '.join(names.values())}.")
        return replace(self, moon={names[name.lower()]: check(f"distance from the Moon for {name}", angle,
                                                              MOON_DISTANCE) for name, angle in self.moon.items()})

    def notes(self, site: Site) -> tuple[str, ...]:
        """Return the limits in words, nothing for none."""
        hours = [f"{word} {clock_text(time, site)}" for word, time in (("from", self.begin), ("until", self.until))
                 if time is not None]
        moon = [f"{name} at least {angle.to_value(u.deg):g}°" for name, angle in self.moon.items()]
        return (*([f"Your session: {' '.join(hours)}."] if hours else []),
                *([f"Your distance from the Moon while it is up: {', '.join(moon)}."] if moon else []))


def through(requests: Iterable[Request], names: Sequence[str], rig: Rig, *, called: str = "filters"
            ) -> tuple[Request, ...]:
    """Return requests with the filters named alone, those left without one dropped.

    Where none wants any of them, those of which nobody said what is wanted want these filters of the rig.
    Raises InvalidInputError with the name `called`, if none is named, or one that no request can have.
    """
    requests, asked = list(requests), [name.lower() for name in names]
    wanted = {need.band.name.lower(): need.band.name for request in requests for need in request.needs}
    if not set(asked) & set(wanted):
        bands = tuple(band for band in rig.filters if band.name.lower() in asked)
        requests = [replace(request, needs=default_needs(kind_of_object(request.target), replace(rig, filters=bands)))
                    if request.usual and bands else request for request in requests]
        wanted |= {band.name.lower(): band.name for band in rig.filters if any(one.usual for one in requests)}
    if not asked or not set(asked) <= set(wanted):
        raise InvalidInputError(called, ",".join(names) or "none", "must name filters that are wanted: "
                                f"{', '.join(sorted(wanted.values()))}", "Write it like L,Ha.")
    kept = [(request, tuple(need for need in request.needs if need.band.name.lower() in asked)) for request in requests]
    return tuple(replace(request, needs=needs) for request, needs in kept if needs)


def away_from_moon(parts: tuple[Stretch, ...], target: Target, site: Site, distance: u.Quantity[u.deg]
                   ) -> tuple[Stretch, ...]:
    """Return the stretches in which a target is so far from the Moon's centre, or the Moon below the horizon."""
    kept = []
    for part in parts:
        at = np.linspace(part.start, part.end, max(2, int(np.ceil((part.end - part.start) / STEP)) + 1))
        place = moon(site, utc_time(at))
        far = (place.separation_from(target) - distance).to_value(u.deg)
        free = _free(at, far) + _free(at, -place.apparent_altitude.to_value(u.deg))
        kept += [replace(part, start=start, end=end) for start, end in _joined(sorted(free))]
    return tuple(kept)


def _free(at: np.ndarray, above: np.ndarray) -> list[tuple[float, float]]:
    """Return the stretches in which values are more than 0, straight between their moments."""
    inside = above > 0
    cross = np.flatnonzero(inside[1:] != inside[:-1])
    edges = at[cross] + (at[cross + 1] - at[cross]) * above[cross] / (above[cross] - above[cross + 1])
    edges = np.concatenate([at[:1] if inside[0] else [], edges, at[-1:] if inside[-1] else []])
    return [(float(start), float(end)) for start, end in edges.reshape(-1, 2)]


def _joined(spans: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Return spans in order of their starts with those that touch made one."""
    found: list[tuple[float, float]] = []
    for start, end in spans:
        if found and start <= found[-1][1]:
            found[-1] = found[-1][0], max(found[-1][1], end)
        else:
            found.append((start, end))
    return found
