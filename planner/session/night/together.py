"""Several rigs at one site at once, each on a mount of its own: they share the targets, and none does another's work.

Each is planned with what the others bring counted as done, in turn and once more: worth grows with the root of hours,
so that a rig turns to what the others leave. Over a season what is left is shared out so that all work on it for as
long. A mosaic of which rigs would take different panels is done, filter by filter, by the rig that takes least for it.

Equivalent hours are each rig's own. Wishes are told in those of the first rig that has the filter; one of another rig
brings as much squared signal-to-noise of a faint surface as `strength` over `strength` of them: the square of what a
square arcsecond of it brings, over what sky and dark current make there.
"""

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import TypeVar

from astropy import units as u

from planner.errors import InvalidInputError
from planner.exposure.depth import GOAL_AREA
from planner.exposure.light.noise import PIXEL_RATE
from planner.exposure.light.photons import LightPath
from planner.exposure.reasons import times
from planner.rig import Filter, Rig, Site
from planner.session.night.model import NightPlan
from planner.session.projects.project_requests import mosaic_of
from planner.session.projects.request import Need, Request
from planner.visibility import Target

Brought = Mapping[tuple[str, str], float]  # equivalent hours, by target and filter in small letters
ALIKE = 0.05  # of an hour: what is nearer is as good
ROUNDS = 2  # the first rig's second plan knows what the others bring
T = TypeVar("T")
Wanted = Sequence[tuple[Rig, Sequence[Request]]]


def together(wanted: Wanted, answer: Callable[[Rig, Sequence[Request]], T],
             brought: Callable[[T], Brought], site: Site) -> list[T]:
    """Return an answer for each rig, given those of the others.

    `answer`: plans a rig for requests. `brought`: what an answer brings.
    Raises InvalidInputError if two rigs stand on one mount.
    """
    wanted, worth = _each_in_its_hours(wanted, site)
    found: dict[int, T] = {}
    for _ in range(ROUNDS if len(wanted) > 1 else 1):
        for place, (rig, requests) in enumerate(wanted):
            others = [{(target, band): hours * worth[number][band] / worth[place][band]
                       for (target, band), hours in brought(one).items() if band in worth[place]}
                      for number, one in found.items() if number != place]
            found[place] = answer(rig, [_credited(request, others) for request in requests])
    return list(found.values())


def shared_out(wanted: Wanted, site: Site) -> list[tuple[Rig, tuple[Request, ...]]]:
    """Return the requests of each rig with what is left shared among those that have the filter: all take as long.

    Raises InvalidInputError if two rigs stand on one mount.
    """
    wanted, worth = _each_in_its_hours(wanted, site)
    all_of = Counter[tuple[str, str]]()  # what all rigs that have a filter bring of a target in an hour
    for (_, requests), of_band in zip(wanted, worth, strict=True):
        all_of.update({(request.target.name, band): of_band[band] for request in requests for need in request.needs
                       for band in [need.band.name.lower()]})

    def part(request: Request, need: Need, own: float) -> Need:
        if need.hours is None or need.hours <= need.done:
            return need
        share = own / all_of[request.target.name, need.band.name.lower()]
        return replace(need, hours=need.done + (need.hours - need.done) * share)

    return [(rig, tuple(replace(request, needs=tuple(part(request, need, of_band[need.band.name.lower()])
                                                     for need in request.needs)) for request in requests))
            for (rig, requests), of_band in zip(wanted, worth, strict=True)]


def strength(rig: Rig, site: Site, band: Filter) -> float:
    """Return how fast an equivalent hour of a rig gathers squared signal-to-noise of a faint surface, on any scale."""
    light = LightPath(rig, band, site)
    signal = light.surface(0 * u.mag / u.arcsec**2, airmass=1.0).to_value(PIXEL_RATE)
    return float(signal**2 / light.zenith_background.to_value(PIXEL_RATE)) * light.pixels(GOAL_AREA)


def exchange_lines(wanted: Wanted, site: Site) -> tuple[str, ...]:
    """Return what an hour of the first rig takes with the others, in the filters in which it is not much the same."""
    if len(wanted) < 2:
        return ()
    worth = [_worth(rig, requests, site) for rig, requests in wanted]
    lines = []
    for (rig, _), of_band in zip(wanted[1:], worth[1:], strict=True):
        names = {band.name.lower(): band.name for band in rig.filters}
        taken = {names[band]: worth[0][band] / of_band[band] for band in of_band if band in worth[0]}
        words = [f"{times(ratio)} h in {name}" for name, ratio in taken.items() if abs(ratio - 1) > ALIKE]
        if words:
            lines.append(f'Equivalent hours are each rig\'s own: one of "{wanted[0][0].name}" takes "{rig.name}" '
                         f"{', '.join(words)}.")
    return tuple(lines)


def _worth(rig: Rig, requests: Sequence[Request], site: Site) -> dict[str, float]:
    """Return the strength of a rig in each filter that is wanted of it, by name in small letters."""
    bands = {need.band.name.lower(): need.band for request in requests for need in request.needs}
    return {name: strength(rig, site, band) for name, band in bands.items()}


def _each_in_its_hours(wanted: Wanted, site: Site) -> tuple[Wanted, list[dict[str, float]]]:
    """Return wishes told in each rig's own hours, a mosaic's with one rig, and the strengths of the rigs."""
    _each_its_mount([rig for rig, _ in wanted])
    worth = [_worth(rig, requests, site) for rig, requests in wanted]
    first: dict[str, float] = {}
    for of_band in worth[::-1]:
        first |= of_band

    def told(need: Need, of_band: dict[str, float]) -> Need:
        band = need.band.name.lower()
        ratio = first[band] / of_band[band]
        return replace(need, hours=None if need.hours is None else need.hours * ratio, done=need.done * ratio)

    own = [(rig, [replace(request, needs=tuple(told(need, of_band) for need in request.needs)) for request in requests])
           for (rig, requests), of_band in zip(wanted, worth, strict=True)]
    return _mosaics_once(own, worth), worth


def _mosaics_once(wanted: Wanted, worth: Sequence[Mapping[str, float]]) -> Wanted:
    """Return the requests with each filter of a mosaic left to one rig where their panels differ."""
    layouts: dict[tuple[str, str], dict[int, set[tuple[int, int]]]] = {}
    mosaics = {mosaic_of(request.target) for _, requests in wanted for request in requests}

    def name_of(target: Target) -> str | None:
        return target.name if target.name in mosaics else mosaic_of(target)  # whole in one frame, or a panel

    for place, (_, requests) in enumerate(wanted):
        for request in requests:
            at = round(request.target.ra.to_value(u.arcmin)), round(request.target.dec.to_value(u.arcmin))
            for need in request.needs:
                if name := name_of(request.target):
                    layouts.setdefault((name, need.band.name.lower()), {}).setdefault(place, set()).add(at)
    doer = {(name, band): min(each, key=lambda place: len(each[place]) / worth[place][band])
            for (name, band), each in layouts.items() if len(set(map(frozenset, each.values()))) > 1}

    def mine(request: Request, place: int) -> tuple[Need, ...]:
        name = name_of(request.target) or ""
        return tuple(need for need in request.needs if doer.get((name, need.band.name.lower()), place) == place)

    def met(request: Request) -> Request:
        return replace(request, needs=tuple(replace(need, done=need.hours or need.done) for need in request.needs))

    # A rig that others leave nothing is told so.
    return [(rig, [replace(request, needs=needs) for request in requests if (needs := mine(request, place))]
             or [met(request) for request in requests]) for place, (rig, requests) in enumerate(wanted)]


def _each_its_mount(rigs: Sequence[Rig]) -> None:
    for place, rig in enumerate(rigs):
        other = next((one for one in rigs[:place] if one.mount.name == rig.mount.name), None)
        if other is not None:
            raise InvalidInputError("--beside", rig.name, f'stands on the mount "{rig.mount.name}" of rig '
                                    f'"{other.name}"', "Name rigs that have a mount each.")


def night_brought(plan: NightPlan) -> Brought:
    """Return what a night's plan brings."""
    found: dict[tuple[str, str], float] = {}
    for block in plan.blocks:
        key = (block.target.name, block.band.name.lower())
        found[key] = found.get(key, 0.0) + float(block.equivalent_hours.to_value(u.h))
    return found


def _credited(request: Request, others: Sequence[Brought]) -> Request:
    """Return a request with what others bring counted as done."""
    if not others:
        return request

    def credited(need: Need) -> Need:
        hours = sum(other.get((request.target.name, need.band.name.lower()), 0.0) for other in others)
        return replace(need, done=need.done + hours * u.h)

    return replace(request, needs=tuple(credited(need) for need in request.needs))
