"""The answer of a night: blocks of whole subs, what becomes of each request, and how good the plan is."""

import datetime
from dataclasses import dataclass

from astropy import units as u
from astropy.time import Time

from planner.rig import Filter, Rig, Site
from planner.rig.choices import Side
from planner.session.night.slots.windows import Reach
from planner.session.projects.request import Request
from planner.session.worth.times import Times
from planner.visibility import MoonEvents, Night, Target
from planner.visibility.earth_rotation import shown_as_time

LEAST_SHARE = 0.25  # of what the same time counts for in the moonless zenith: common practice, no source
BROAD, NARROW = "broad bands", "narrow bands"
FEWER = "Observable; left for another night, so that fewer targets get longer."


@dataclass(frozen=True, kw_only=True)
class Event:
    """One thing to do; kind is flats, target, filter, flip, focus, rest or darks."""

    kind: str
    start: Time
    end: Time
    text: str


@dataclass(frozen=True, kw_only=True)
class PlannedFlip:
    """The change of sides of one target; planned is None where the plan does without it."""

    target: Target
    earliest_tt: float  # MJD
    latest_tt: float
    planned: Time | None
    lost: u.Quantity[u.min]  # from the last sub before to the first after; 0 without a planned flip

    earliest, latest = shown_as_time("earliest_tt"), shown_as_time("latest_tt")


@dataclass(frozen=True, kw_only=True)
class Block:
    """Whole subs of one target through one filter on one side of the pier."""

    target: Target
    band: Filter
    start: Time
    end: Time
    pier_side: Side  # where the telescope is: west or east of the pier, in the middle; "" for a mount without sides
    above_pole: Side  # where it is with the axes turned so and the target above the pole: changes with a flip alone
    sub_exposure: u.Quantity[u.s]
    sub_count: int
    guided: bool
    equivalent_hours: u.Quantity[u.h]
    refocus: tuple[Time, ...]  # pauses for the focus within the block
    altitude: u.Quantity[u.deg]  # apparent, in the middle
    moon_up: bool  # in the middle
    moon_separation: u.Quantity[u.deg]


@dataclass(frozen=True, kw_only=True)
class Outlook:
    """What becomes of one request tonight."""

    request: Request
    weights: tuple[float, ...]  # of its needs
    reach: Reach  # at the least dark sky that one of its filters accepts
    planned: u.Quantity[u.h]  # equivalent
    clock_time: u.Quantity[u.h]  # of its blocks
    reason: str  # why there is no block; empty if there is one
    too_wide_below: u.Quantity[u.deg] | None = None  # altitude below which the air alone makes most subs too wide


@dataclass(frozen=True, kw_only=True)
class NightPlan:
    """The plan of one night, and what it rests on."""

    date: datetime.date
    rig: Rig
    site: Site
    night: Night  # at the deepest Sun that a wanted filter asks for; `dark` is its dark time
    # the least depth of the Sun [deg] that some other filter accepts, and the dark time then
    twilight_dark: tuple[float, tuple[Time, Time]] | None
    moon: MoonEvents
    outlooks: tuple[Outlook, ...]
    blocks: tuple[Block, ...]
    flips: tuple[PlannedFlip, ...]
    events: tuple[Event, ...]
    # worth of the blocks in all, as in `planner.session.night.plan`; `bound`: proven, no sequence of these slots, each
    # filter of a target in one go, is worth more with the targets chosen (where whole subs bring more, their worth)
    value: float
    bound: float
    gap: float  # share of the bound by which the slots, and the blocks, are short of it at most
    # for "broad bands" and "narrow bands", those planned: equivalent hours of the blocks over those that the same
    # time is worth in the zenith of a dark, moonless sky of this site
    dark_shares: dict[str, float]
    times: Times | None
    slot: u.Quantity[u.min]
    lowest_altitude: u.Quantity[u.deg]
    few_lengths: bool  # of subs, for darks of each are taken
    moonlit: bool  # what loses least under the Moon comes first (`slots.moonlit`)
    reason: str  # why the plan is empty; empty if it is not
    notes: tuple[str, ...]

    @property
    def dark(self) -> tuple[Time, Time] | None:
        """From when to when it is dark."""
        return self.night.dark

    def sides(self, target: Target) -> tuple[tuple[Side, Side], ...]:
        """Return the sides of the pier on which a target is planned, in their order: `above_pole` and `pier_side`."""
        return tuple(dict.fromkeys((block.above_pole, block.pier_side) for block in self.blocks
                                   if block.target.name == target.name))

    @property
    def few(self) -> bool:
        """Say whether targets were left out so that the others get longer."""
        return any(outlook.reason == FEWER for outlook in self.outlooks)

    @property
    def worth_setting_up(self) -> bool:
        """Say whether the time planned counts for enough, against a dark night of the site."""
        return any(share >= LEAST_SHARE for share in self.dark_shares.values())
