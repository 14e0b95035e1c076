"""Set-ups on the observer's mount: telescope, reducer and camera, ranked by the time that this mount needs.

Each is judged by the core call of the advice, on the same night: verdict, length, hours and depth are the advice's own.
Times nearer than the observer cares for are equal, and half the panels, load, data, focus runs or time for the faint
surface are worth a part of that. A load beyond the mount's rating counts like more time and never stands before the
best within it; a set-up that keeps no sub comes last. Panels of a mosaic cost a move each.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import chain
from typing import Annotated, Any, NamedTuple

import numpy as np
from astropy import units as u

from planner.cores import over_cores
from planner.exposure.depth import Depth, depth_after
from planner.exposure.guide_need import Verdict
from planner.exposure.integration import integration_time
from planner.exposure.light.recorded_band import slowest_line
from planner.exposure.reasons import GUIDER_GAIN
from planner.fields import Key, Spread, told
from planner.rig import Camera, Guider, Reducer, Rig, Telescope
from planner.rig.choices import Way
from planner.session.advice.answer import Judged, judge
from planner.session.advice.guide_star import NearbyStars, stars_reach
from planner.session.match.combination import Combination, field_behind, lit_side, rig_with, stars_behind
from planner.session.match.combinations import Combinations, optical_trains
from planner.session.match.detail import (
    MOVE,
    detail_left,
    finest_period,
    forbidden_period,
    hours_a_panel,
    star_spread,
)
from planner.session.match.equipment_figures import refocus_change
from planner.session.match.goals import Core, beside_neighbour, core_of, too_close, with_star
from planner.session.match.ranking import RANKINGS
from planner.session.projects.framing import framing
from planner.tracking import GuideLoop

AS_GOOD = 0.10  # of the time: nearer is equal, unless the observer says otherwise (common practice, no source)
# Of that: what half the panels is worth, and half the load, data, focus runs or time for the faint surface (common
# practice, no source).
PANELS, REST = 0.2, 0.1
NEVER = 1e9  # hours
LIFETIME = 1e5  # hours of clear nights: what weighs more for its load stands with what never gets there
TOO_CLOSE = 0.2  # of the distance asked for: each such step that neighbours lack to show as two is worth all of it
FALL = 5 * u.K  # of the temperature in a night, with a focus run for each change that is felt, beside the first
ALIKE_BINNINGS = 0.02
LEAST_LEFT = 1e-8  # of the squared contrast: a hundred million times the surface's time is never
# Of the rating: each such step beyond it counts like twice the time (no source). Gentle at first, since a rating and
# masses are rough figures; what is clearly too heavy falls behind all that works.
OVERLOAD = 0.10
BEGINNING = 10 * u.min  # to point, centre and focus, whatever comes then (common practice, no source)
CLEARLY = 0.05  # by which one figure must differ to count: more than the figures' own accuracy


@dataclass(frozen=True, kw_only=True)
class Noise:
    """Where the variance of one pixel comes from, as shares of it, in one sub-exposure of the recommended length."""

    source: Annotated[float, "of the goal's light"]
    sky: Annotated[float, "of the sky's light"]
    dark: Annotated[float, "of the dark current"]
    read: Annotated[float, "of the read noise"]


@dataclass(frozen=True, kw_only=True)
class SetUp:
    """One telescope, reducer and camera on the mount."""

    choice: Annotated[Combination, Spread()]  # of the pixels that are read
    binnings: Annotated[tuple[int, ...], "the finest within 2 % of the best, and those as good", Key("binnings_alike")]
    verdict: Annotated[Verdict, "on guiding"]
    method: Annotated[Way, "the faster way"]
    loop: GuideLoop | None  # of the guided way
    sub_exposure: Annotated[u.Quantity[u.s], "of the recommended length"]
    kept: Annotated[float, "share of subs that are kept", Key("kept_fraction")]
    noise: Annotated[Noise, "shares of a pixel's variance in a sub of that length", Key("noise_fractions")]
    depth: Depth | None  # of the whole target in the hours of the night; None where no sub is kept or no hours are left
    surface_time: u.Quantity[u.h]  # whole target, or one square degree; infinite where no sub is kept
    detail_time: u.Quantity[u.h]
    star_time: u.Quantity[u.h]
    finest: Annotated[u.Quantity[u.arcsec], "shortest detail that the hours show, bright to bright; null for none",
                      Key("finest_period_arcsec")]  # infinite for none
    forbidden: Annotated[u.Quantity[u.arcsec], "up to which the pixels hold nothing, whatever the hours",
                         Key("forbidden_period_arcsec")]
    saturation: Annotated[u.Quantity[u.mag], "brightest star that the recommended sub does not saturate"]
    core: Annotated[Core | None, Spread()]  # brightest part; None where nothing brighter than the goal is known
    mixes: bool  # one frame holds both lines of the filter, which no picture tells apart
    load: Annotated[u.Quantity[u.kg], "of the parts whose mass is known"]
    data: Annotated[u.Quantity[u.Gbyte / u.h], "raw frames", Key("data_gigabyte_per_h")]
    reason: Annotated[str, "why it stands behind others; empty where it does not"]
    rank: Annotated[int, "1 for the best"] = 0
    as_good: Annotated[bool, "whether it is as good as the first"] = False
    outclassed_by: Annotated[int | None, "rank of one nowhere clearly worse and somewhere clearly better; null for "
                             "none"] = None
    finest_binning = told(int, "pixels per side that are added into one: the first of those alike",
                          lambda row: row.binnings[0], key="binning")
    brightness = told(u.mag / u.arcsec**2, "faintest surface that the hours reach, Vega; null for a line, or none",
                      lambda row: None if row.depth is None else row.depth.brightness, key="depth_mag_per_arcsec2")
    line = told(u.R, "faintest line that the hours reach; null for a surface, or none",
                lambda row: None if row.depth is None else row.depth.line, key="depth_line_rayleigh")

    @property
    def works(self) -> bool:
        """Whether it comes to focus and any sub is kept."""
        return bool(np.isfinite(self.surface_time.value))

    @property
    def name(self) -> str:
        """What it is made of: ``long, 0.7 reducer, aps-c``."""
        parts = (self.choice.telescope, self.choice.reducer, self.choice.camera)
        return ", ".join(part.name for part in parts if part is not None)


def set_ups(asked: Combinations, *, as_good: float = AS_GOOD) -> tuple[SetUp, ...]:
    """Return every set-up of the combinations on the mount, best first.

    `asked`: from `weigh_combinations`; its ranking is the figure that counts. `as_good`: share of the time by which
    two may differ and still be equal.
    """
    if asked.hours.hour_angle is None:
        return ()
    parts = [_Parts(*train, camera) for train in optical_trains(asked.equipment) for camera in asked.equipment.cameras]
    rigs = [rig_with(asked.rig, one.train, one.camera, binning=asked.binnings[0]) for one in parts]
    stars = None
    if asked.target is not None and asked.stars_around is not None:
        stars = asked.stars_around(asked.target, max(rigs, key=stars_reach))
    first, *others = zip(parts, rigs, strict=True)
    known = _behind(asked, [first], stars, ())
    trains = [[other for other in others if other[0].train is train]
              for train in {id(one.train): one.train for one, _ in others}.values()]
    judged = [*known, *chain(*over_cores(lambda train: _behind(asked, train, stars, known), trains))]
    return _outclassed(asked, _ordered(asked, judged, as_good))


def helping_guider(asked: Combinations, rows: Sequence[SetUp]) -> tuple[Guider, SetUp] | None:
    """Return the guider of the equipment that helps a rig without one most, and the first set-up with it.

    None where the rig has a guider, no guider makes the first set-up faster by `GUIDER_GAIN`, or no time is ranked on.
    """
    if asked.rig.guider is not None or not rows or not rows[0].works or RANKINGS[asked.ranking].figure is not None:
        return None
    choice = rows[0].choice
    parts = replace(asked.equipment, telescopes=(choice.telescope,), cameras=(choice.camera,),
                    reducers=() if choice.reducer is None else (choice.reducer,))
    found = [(guider, row) for guider in asked.equipment.guiders
             for row in set_ups(replace(asked, equipment=parts, rig=replace(asked.rig, guider=guider)))
             if row.name == rows[0].name]
    best = min(found, key=lambda one: order_figure(asked, one[1]), default=None)
    gain = 0.0 if best is None else order_figure(asked, rows[0]) / order_figure(asked, best[1])
    return best if gain >= GUIDER_GAIN else None


class _Parts(NamedTuple):
    telescope: Telescope
    reducer: Reducer | None
    train: Telescope
    camera: Camera


def _behind(asked: Combinations, train: Sequence[tuple[_Parts, Rig]], stars: NearbyStars | None,
            known: Sequence[SetUp]) -> list[SetUp]:
    """Return the set-ups of cameras behind one optical train, the loop of the first of them serving the others.

    `known`: the first set-up of all, whose loop is where the search for another train's begins.
    """
    start = next((one.loop for one in known if one.loop is not None), None)
    found: list[SetUp] = []
    for one, rig in train:
        near = next((other.loop for other in (*reversed(found), *known)
                     if other.loop is not None and other.choice.train is one.train), None)
        found.append(_judged(asked, one, rig, stars, start, near) if one.camera.register_well is None
                     else _read(asked, one, stars, start, near))
    return found


def _read(asked: Combinations, parts: _Parts, stars: NearbyStars | None, start: GuideLoop | None,
          near: GuideLoop | None) -> SetUp:
    """Return a set-up whose sensor adds charges itself, in the finest of its best binnings: each reads other frames."""
    found = []
    for size in asked.binnings:
        one = parts._replace(camera=parts.camera.binned(size))
        rig = rig_with(asked.rig, one.train, one.camera)
        found.append(_judged(replace(asked, binnings=(1,)), one, rig, stars, start, near))
    figures = [order_figure(asked, one) for one in found]
    best = min(figures)
    alike = [number for number, figure in enumerate(figures) if figure - best <= ALIKE_BINNINGS * abs(best)
             or not np.isfinite(best)]
    return replace(found[alike[0]], binnings=tuple(asked.binnings[number] for number in alike))


def _judged(asked: Combinations, parts: _Parts, rig: Rig, stars: NearbyStars | None, start: GuideLoop | None,
            near: GuideLoop | None) -> SetUp:
    """Return one set-up on the mount, with the binnings that do as well as the finest asked for.

    `start`, `near`: as for `guide_need`.
    """
    found = judge(rig, asked.site, slowest_line(parts.camera, asked.band), asked.goal, asked.hours,
                  declination=asked.declination, target=asked.target, stars=stars, with_reasons=False, start=start,
                  near=near)
    scene, sub, lit = found.scene, found.need.better, lit_side(parts.train, parts.camera, asked.band)
    field = field_behind(parts.train, parts.camera, 1.0 if asked.any_circle else lit)
    choice = Combination(
        camera=parts.camera, telescope=parts.telescope, reducer=parts.reducer, binning=rig.binning, train=parts.train,
        field=field, lit=lit,
        framing=framing(field, asked.target, overlap=asked.overlap),
        **stars_behind(parts.train, scene, drizzled=asked.drizzled))
    depth = _depth(asked, choice, found)
    return SetUp(
        choice=choice, binnings=_alike(asked, choice, found), verdict=found.need.verdict,
        method="guided" if sub is found.need.guided else "unguided", loop=found.need.loop,
        sub_exposure=sub.recommended, kept=sub.kept, noise=_noise(found), depth=depth,
        mixes=parts.camera.colour == "mono" and asked.band.narrow and len(asked.band.windows) > 1,
        load=rig.load, **_times(asked, choice, found), saturation=sub.saturation_magnitude, core=core_of(asked, found),
        forbidden=forbidden_period(asked, choice, found, choice.binning),
        finest=finest_period(asked, choice, found, depth),
        data=_data(choice, sub.recommended, rig), reason=_reason(asked, choice, found))


def _times(asked: Combinations, choice: Combination, found: Judged) -> dict[str, Any]:
    """Return the whole time for the surface, for detail in it and for stars.

    A star holds the light of the goal's area. Infinite where no sub is kept or nothing is left.
    """
    names = ("surface_time", "detail_time", "star_time")
    if found.total is None or choice.no_focus:
        return dict.fromkeys(names, np.inf * u.h)
    left = detail_left(asked, choice, found, choice.binning)
    surface = found.total.clock_time
    spread = beside_neighbour(star_spread(choice, found, choice.binning), asked.apart)
    stars = integration_time(with_star(asked, found.scene), found.need.better, signal_to_noise=asked.goal.ratio,
                             area=asked.goal.area, spread=spread)
    times = (surface, surface / left if left > LEAST_LEFT else np.inf * u.h, stars.clock_time)
    return {name: whole(asked, choice, time) for name, time in zip(names, times, strict=True)}


def _alike(asked: Combinations, choice: Combination, found: Judged) -> tuple[int, ...]:
    """Return the binnings, the finest first, whose time is that of the finest within 2 %.

    Pixels added in software cost the surface nothing; of detail they leave less, a star they spread.
    """
    if asked.ranking == "surface" or found.total is None or len(asked.binnings) == 1:
        return asked.binnings
    if asked.ranking == "stars":
        worth = [float(1 / beside_neighbour(star_spread(choice, found, binning), asked.apart).value)
                 for binning in asked.binnings]
    else:
        worth = [detail_left(asked, choice, found, binning) for binning in asked.binnings]
    return tuple(binning for binning, share in zip(asked.binnings, worth, strict=True)
                 if share * (1 + ALIKE_BINNINGS) >= worth[0])


def _noise(found: Judged) -> Noise:
    scene, length = found.scene, found.need.better.recommended
    parts = np.array([*((rate * length * u.pix).to_value(u.electron)
                        for rate in (scene.signal_rate, scene.sky_rate, scene.dark_rate)),
                      scene.read_noise.to_value(u.electron) ** 2])
    return Noise(**dict(zip(("source", "sky", "dark", "read"), (parts / parts.sum()).tolist(), strict=True)))


def _depth(asked: Combinations, choice: Combination, found: Judged) -> Depth | None:
    """Return what the night's hours reach, dealt out to the panels."""
    panels = choice.framing.panels
    if choice.no_focus:
        return None
    if panels == 1 or found.depth is None:
        return found.depth
    hours = hours_a_panel(choice, found)
    return depth_after(found.scene, found.need.better, hours, asked.goal) if hours > 0 else None


def whole(asked: Combinations, choice: Combination, one_field: u.Quantity[u.h]) -> u.Quantity[u.h]:
    """Return the time for the whole target, panels and moves between them, or that for one square degree."""
    if asked.target is None:
        return one_field / float(choice.field_area.to_value(u.deg**2))
    panels = choice.framing.panels
    return one_field * panels + (panels * MOVE.to(u.h) if panels > 1 else 0 * u.h)


def _data(choice: Combination, length: u.Quantity[u.s], rig: Rig) -> u.Quantity[u.Gbyte / u.h]:
    """Return how fast raw frames of a length fill a disk."""
    size = choice.camera.columns * choice.camera.rows * -(-choice.camera.bit_depth // 8) / 1e9 * u.Gbyte
    return (size / (length + rig.overhead(length))).to(u.Gbyte / u.h)


def _reason(asked: Combinations, choice: Combination, found: Judged) -> str:
    """Return why a set-up stands behind others, or nothing."""
    if missing := choice.no_focus:
        return missing
    if found.total is None:
        return ("no length of sub keeps round stars on this mount" if not found.need.better.speed > 0
                else "nothing of the goal's light is recorded")
    return "" if asked.any_load else found.scene.rig.too_heavy


def overload(asked: Combinations, load: u.Quantity[u.kg]) -> float:
    """Return by which share of the mount's rating a load is beyond it; 0 within it, or where no rating is known."""
    payload = asked.rig.mount.payload
    return 0.0 if payload is None else max(float((load / payload).to_value(u.one)) - 1, 0.0)


def _ordered(asked: Combinations, judged: Sequence[SetUp], as_good: float) -> list[SetUp]:
    """Return the set-ups in order: the best within the rating and those as good, what else works, what does not."""
    weighed = {one.name: float(f"{_weighed(asked, one, as_good):.6g}") for one in judged}  # no later digit decides
    within = [one for one in judged if one.works and not one.reason]
    pure = {one.name for one in within if not one.mixes and np.isfinite(weighed[one.name])}
    free = pure or {one.name for one in within}
    best = min((weighed[name] for name in free), default=np.inf)
    last = best + as_good * abs(best) if np.isfinite(best) else -np.inf

    def place(one: SetUp) -> tuple[bool, bool, float, bool, float, str]:
        first = one.name in free and weighed[one.name] <= last
        surface = float(one.surface_time.value)  # where none shows the detail wanted
        return not first, not one.works, weighed[one.name], bool(one.reason), surface, one.name

    return [replace(one, rank=number, as_good=not place(one)[0] or (number == 1 and one.works))
            for number, one in enumerate(sorted(judged, key=place), start=1)]


def _weighed(asked: Combinations, one: SetUp, as_good: float) -> float:
    """Return the figure that set-ups are ordered by with what counts beside it: a load beyond the rating, simplicity.

    `as_good` is what simplicity is measured in: the observer who calls that much of the time equal gives some for it.
    """
    figure, weight = order_figure(asked, one), (1 + as_good) ** _effort(asked, one)
    if not asked.any_load:
        weight *= 2 ** (overload(asked, one.load) / OVERLOAD)
    if RANKINGS[asked.ranking].figure is not None:
        return figure * weight if figure > 0 else figure / weight
    weighed = (figure + BEGINNING.to_value(u.h)) * weight
    return weighed if weighed < LIFETIME or not one.reason else np.inf


def _effort(asked: Combinations, one: SetUp) -> float:
    """Return what panels, load, data, focusing and the faint surface cost beside time, in widths of the band of equals.

    Data are those of an hour, or of all the time that the goal takes where that is less.
    """
    runs = FALL.value / refocus_change(one.choice.train, asked.site).value
    timed = RANKINGS[asked.ranking].figure is None
    data = one.data.value * (min(order_figure(asked, one), 1.0) if timed else 1.0)
    surface = min(float(one.surface_time.to_value(u.h)), NEVER)
    rest = (1 + one.load.value) * (1 + data) * (1 + runs) * (1 + surface)
    return float(PANELS * np.log2(one.choice.framing.panels) + REST * np.log2(rest)
                 + too_close(asked, one.choice) / TOO_CLOSE)


def order_figure(asked: Combinations, one: SetUp) -> float:
    """Return the figure that set-ups are ordered by, less first: hours, or what the ranking says."""
    figure = RANKINGS[asked.ranking].figure
    if figure is None:
        times = {"detail": one.detail_time, "surface": one.surface_time, "stars": one.star_time}
        return float(times[asked.ranking].to_value(u.h))
    return figure(one.choice, asked.target is not None)


def _outclassed(asked: Combinations, ordered: Sequence[SetUp]) -> tuple[SetUp, ...]:
    """Return the set-ups with the rank of the first that is nowhere clearly worse and somewhere clearly better."""
    if not ordered:
        return ()
    size = [one.choice.field_area.value if asked.target is None else 1 / one.choice.framing.panels for one in ordered]
    table = np.log(np.minimum(1e30, [
        [one.surface_time.value, one.detail_time.value, one.star_time.value, one.choice.picture_fwhm.value, 1 / big,
         1 / max(one.choice.framing.share, 1e-9)] for one, big in zip(ordered, size, strict=True)]))
    found = []
    for number, one in enumerate(ordered):
        better = table[number] - table
        free = np.array([other.works and not other.reason for other in ordered])
        beats = np.flatnonzero(free & (better >= -CLEARLY).all(axis=1) & (better > CLEARLY).any(axis=1))
        found.append(replace(one, outclassed_by=int(beats[0]) + 1 if beats.size else None))
    return tuple(found)
