"""Several rigs at one site at once, each on a mount of its own: they share the targets, and none does another's work.

Each is planned with what the others bring counted as done, in turn and once more: worth grows with the root of hours,
so that a rig turns to what the others leave. Over a season what is left is shared out evenly. An hour of any rig counts
alike in the filter of one name. A mosaic of which rigs would take different panels is done, filter by filter, by the
rig that takes the fewest.
"""

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import TypeVar

from astropy import units as u

from planner.errors import InvalidInputError
from planner.rig import Rig
from planner.session.night.model import NightPlan
from planner.session.projects.project_requests import mosaic_of
from planner.session.projects.request import Need, Request
from planner.visibility import Target

Brought = Mapping[tuple[str, str], float]  # equivalent hours, by target and filter in small letters
ROUNDS = 2  # the first rig's second plan knows what the others bring
T = TypeVar("T")
Wanted = Sequence[tuple[Rig, Sequence[Request]]]


def together(wanted: Wanted, answer: Callable[[Rig, Sequence[Request]], T],
             brought: Callable[[T], Brought]) -> list[T]:
    """Return an answer for each rig, given those of the others.

    `answer`: plans a rig for requests. `brought`: what an answer brings.
    Raises InvalidInputError if two rigs stand on one mount.
    """
    _each_its_mount([rig for rig, _ in wanted])
    wanted = _mosaics_once(wanted)
    found: dict[int, T] = {}
    for _ in range(ROUNDS if len(wanted) > 1 else 1):
        for place, (rig, requests) in enumerate(wanted):
            others = [brought(one) for number, one in found.items() if number != place]
            found[place] = answer(rig, [_credited(request, others) for request in requests])
    return list(found.values())


def shared_out(wanted: Wanted) -> list[tuple[Rig, tuple[Request, ...]]]:
    """Return the requests of each rig with what is left shared evenly among those that have the filter.

    Raises InvalidInputError if two rigs stand on one mount.
    """
    _each_its_mount([rig for rig, _ in wanted])
    wanted = _mosaics_once(wanted)
    count = Counter((request.target.name, need.band.name.lower()) for _, requests in wanted for request in requests
                    for need in request.needs)

    def part(request: Request, need: Need) -> Need:
        if need.hours is None or need.hours <= need.done:
            return need
        return replace(need, hours=need.done + (need.hours - need.done)
                       / count[request.target.name, need.band.name.lower()])

    return [(rig, tuple(replace(request, needs=tuple(part(request, need) for need in request.needs))
                        for request in requests)) for rig, requests in wanted]


def _mosaics_once(wanted: Wanted) -> Wanted:
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
    doer = {key: min(each, key=lambda place: len(each[place])) for key, each in layouts.items()
            if len(set(map(frozenset, each.values()))) > 1}

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
