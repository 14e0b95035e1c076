"""The answer of a night: blocks of whole subs, what becomes of each request, and how good the plan is."""

import datetime
from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, Any

from astropy import units as u
from astropy.time import Time

from planner.fields import Key, Spread, rows, told
from planner.rig import Filter, Rig, Site
from planner.rig.choices import PierSide, Side
from planner.session.night.slots.windows import Reach
from planner.session.projects.request import Request
from planner.session.worth.times import Times
from planner.visibility import MoonEvents, Night, Target, local_time
from planner.visibility.clock import utc_text
from planner.visibility.earth_rotation import shown_as_time

LEAST_SHARE = 0.25  # of what the same time counts for in the moonless zenith: common practice, no source
BROAD, NARROW = "broad bands", "narrow bands"
FEWER = "Observable; left for another night, so that fewer targets get longer."
VALUE_UNIT = ("priority x weight x (sqrt((done + equivalent hours) / wanted) - sqrt(done / wanted)), slots of "
              "{:g} min")


def _moment(kind: Any, meaning: str, how: Callable[[Any], Time | None], key: str | None = None) -> Any:
    """Return what stands in the body of a class for a moment, told as ISO 8601 in UTC."""
    return told(kind, f"{meaning} [UTC]", lambda one: None if (at := how(one)) is None else utc_text(at), key=key)


@dataclass(frozen=True)
class Span:
    """From when to when."""

    start: Time
    end: Time
    start_utc = _moment(str, "when it begins", lambda span: span.start)
    end_utc = _moment(str, "when it ends", lambda span: span.end)


@dataclass(frozen=True)
class TwilightDark(Span):
    """The dark time of the filters that accept more twilight."""

    depression: Annotated[u.Quantity[u.deg], "of the Sun's centre, the least that a filter accepts"]


@dataclass(frozen=True, kw_only=True)
class Event(Span):
    """One thing to do."""

    kind: Annotated[str, "flats, target, filter, flip, focus, rest or darks"]
    text: Annotated[str, "what it is, in words"]


@dataclass(frozen=True, kw_only=True)
class PlannedFlip:
    """The change of sides of one target; planned is None where the plan does without it."""

    target: Annotated[Target, "its name"]
    earliest_tt: float  # MJD
    latest_tt: float
    planned: Time | None
    lost: Annotated[u.Quantity[u.min], "from the last sub before to the first after; 0 without a planned flip"]

    earliest, latest = shown_as_time("earliest_tt"), shown_as_time("latest_tt")
    earliest_utc = _moment(str, "when it may come at the earliest", lambda flip: flip.earliest)
    latest_utc = _moment(str, "and at the latest", lambda flip: flip.latest)
    planned_utc = _moment(str | None, "when it is planned; null where the plan does without it",
                          lambda flip: flip.planned)


@dataclass(frozen=True, kw_only=True)
class Block(Span):
    """Whole subs of one target through one filter on one side of the pier."""

    target: Annotated[Target, "its name"]
    band: Annotated[Filter, "its name", Key("filter")]
    pier_side: Side  # "" for a mount without sides
    above_pole: Side  # changes with a flip alone
    sub_exposure: Annotated[u.Quantity[u.s], "of each sub"]
    sub_count: Annotated[int, "of whole subs"]
    guided: Annotated[bool, "whether the subs are guided"]
    equivalent_hours: Annotated[u.Quantity[u.h], "that the subs count for", Key("equivalent_hours")]
    refocus: tuple[Time, ...]
    altitude: Annotated[u.Quantity[u.deg], "apparent, in the middle of the block"]
    moon_up: Annotated[bool, "whether the Moon is up in the middle of the block"]
    moon_separation: Annotated[u.Quantity[u.deg], "of target and Moon in the middle of the block"]
    side = told(PierSide | None, "where the telescope is, in the middle of the block; null for a mount without sides",
                lambda block: block.pier_side or None, key="pier_side")
    side_above_pole = told(PierSide | None, "where it is with the axes turned so and the target above the pole: "
                           "changes with a flip alone", lambda block: block.above_pole or None,
                           key="pier_side_above_pole")
    refocus_utc = told(tuple[str, ...], "pauses for the focus within the block [UTC]",
                       lambda block: [utc_text(at) for at in block.refocus])


@dataclass(frozen=True)
class LocalBlock:
    """A block, with times on the clock of its site."""

    block: Annotated[Block, Spread()]
    site: Site
    start_local = told(str, "when it begins, on the site's clock",
                       lambda one: local_time(one.block.start, one.site).isoformat(timespec="seconds"))
    end_local = told(str, "when it ends, on the site's clock",
                     lambda one: local_time(one.block.end, one.site).isoformat(timespec="seconds"))


@dataclass(frozen=True, kw_only=True)
class Outlook:
    """What becomes of one request tonight."""

    request: Request
    weights: tuple[float, ...]  # of its needs
    reach: Reach  # at the least dark sky that one of its filters accepts
    planned: Annotated[u.Quantity[u.h], "equivalent hours of its blocks", Key("planned_equivalent_h")]
    clock_time: Annotated[u.Quantity[u.h], "of its blocks, on the clock", Key("planned_h")]
    reason: Annotated[str, "why there is no block; empty if there is one"]
    too_wide_below: Annotated[u.Quantity[u.deg] | None, "altitude below which the air alone makes most subs too wide; "
                              "null where it does nowhere"] = None
    target = told(Target, "", lambda outlook: outlook.request.target, Spread(only="name ra dec kind"))
    priority = told(float, "how much the target matters: 1 usual, 2 twice as much",
                    lambda outlook: outlook.request.priority)
    needs = rows(
        "what is wanted, by filter", lambda outlook: (
            (need.band.name, need.hours, need.signal_to_noise, need.done, weight)
            for need, weight in zip(outlook.request.needs, outlook.weights, strict=True)),
        filter=(str, "its name"), hours=(u.h, "equivalent, in all; null where a ratio is wanted", Key("hours")),
        signal_to_noise=(float | None, "on 25 arcsec² of the target's mean surface; null where hours are wanted"),
        done=(u.h, "equivalent hours that are there"),
        weight=(float, "of a line 1, of broad bands 1 on average; less where the Moon spoils them more than others"))
    windows = told(tuple[Span, ...], "when it may be observed, at the least dark sky that one of its filters accepts",
                   lambda outlook: [Span(*span) for span in outlook.reach.window.windows])
    transit_utc = _moment(str, "upper transit nearest to the middle of the night, in the dark or not",
                          lambda outlook: outlook.reach.window.transit)
    max_altitude = told(u.deg, "highest apparent altitude within the windows; at the transit if there is none",
                        lambda outlook: outlook.reach.window.maximum_altitude)
    flip_needed = told(bool, "whether using all of the windows takes a flip",
                       lambda outlook: outlook.reach.meridian.needed)
    meridian = told(str, "what the meridian means for it", lambda outlook: outlook.reach.meridian.reason)


@dataclass(frozen=True, kw_only=True)
class NightPlan:
    """The plan of one night, and what it rests on."""

    date: Annotated[datetime.date, "its evening", Key("night")]
    rig: Annotated[Rig, "that is planned for"]
    site: Annotated[Site, "where"]
    night: Night  # at the deepest Sun that a wanted filter asks for; `dark` is its dark time
    twilight_dark: Annotated[TwilightDark | None, "dark time of the filters that accept more twilight; null where all "
                             "ask for the same, or there is none", Key("dark_for_narrow_bands")]
    moon: MoonEvents
    outlooks: Annotated[tuple[Outlook, ...], "what becomes of each", Key("targets")]
    blocks: tuple[Block, ...]
    flips: Annotated[tuple[PlannedFlip, ...], "that a target needs to use all of its time"]
    events: Annotated[tuple[Event, ...], "all that there is to do besides exposing, rests among it, in order of time"]
    value: Annotated[float, "worth of the blocks in all, in the unit of value_unit"]
    bound: Annotated[float, "proven: no sequence of these slots, each filter of a target in one go, is worth more with "
                     "the targets chosen; where whole subs bring more, their worth"]
    gap: Annotated[float, "share of the bound by which the plan is short of it at most"]
    dark_shares: dict[str, float]  # for BROAD and NARROW
    times: Times | None
    slot: Annotated[u.Quantity[u.min], "length of the slots"]
    lowest_altitude: Annotated[u.Quantity[u.deg], "of a target"]
    few_lengths: bool  # of subs, for darks of each are taken
    moonlit: bool  # what loses least under the Moon comes first (`slots.moonlit`)
    reason: Annotated[str, "why the plan is empty; empty if it is not"]
    notes: Annotated[tuple[str, ...], "what else is to be known"]

    time_zone = told(str, "of the site's clock", lambda plan: plan.site.time_zone)
    dark_span = told(Span | None, "dark time at the deepest Sun that a wanted filter asks for; null if there is none",
                     lambda plan: None if plan.dark is None else Span(*plan.dark), key="dark")
    dark_depression = told(u.deg, "of the Sun's centre, from which it counts as dark",
                           lambda plan: plan.night.depression)
    sunset_utc = _moment(str | None, "null where the Sun does not set that evening", lambda plan: plan.night.sunset)
    sunrise_utc = _moment(str | None, "null where the Sun does not rise that morning", lambda plan: plan.night.sunrise)
    moon_lit = told(float, "lit share of the Moon in the middle of the night", lambda plan: plan.moon.illumination,
                    key="moon.illumination")
    moonrise = _moment(str | None, "first rise from the noon before to the noon after; null if there is none",
                       lambda plan: next(iter(plan.moon.rises), None), key="moon.rise_utc")
    moonset = _moment(str | None, "first set from the noon before to the noon after; null if there is none",
                      lambda plan: next(iter(plan.moon.sets), None), key="moon.set_utc")
    moon_up = told(tuple[Span, ...], "when the Moon is up, from the noon before to the noon after",
                   lambda plan: [Span(*span) for span in plan.moon.up], key="moon.up")
    moon_reason = told(str, "why there is neither rise nor set; empty otherwise", lambda plan: plan.moon.reason,
                       key="moon.reason")
    local_blocks = told(tuple[LocalBlock, ...], "what to expose, in order of time",
                        lambda plan: [LocalBlock(block, plan.site) for block in plan.blocks], key="blocks")
    value_unit = told(str, "what value and bound count", lambda plan: VALUE_UNIT.format(plan.slot.to_value(u.min)))
    shares = told(dict[str, float], "equivalent hours of the blocks over those of the same time in the zenith of a "
                  "dark, moonless sky of this site; of broad_bands and narrow_bands, those planned",
                  lambda plan: {name.replace(" ", "_"): share for name, share in plan.dark_shares.items()},
                  key="share_of_dark_zenith")
    refocus = told(u.min, "from one look at the focus to the next; null where nothing could be planned",
                   lambda plan: None if plan.times is None else plan.times.refocus)

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
    def worth_setting_up(self) -> Annotated[bool, "whether the time planned counts for enough"]:
        """Say whether the time planned counts for enough, against a dark night of the site."""
        return any(share >= LEAST_SHARE for share in self.dark_shares.values())
