"""Set-ups on the observer's mount: telescope, reducer and camera, ranked by the time that this mount needs.

A set-up is judged on its raw frames, unguided and guided: pixels are added later, in software, and change no verdict.
Times nearer than the observer cares for are equal; equal set-ups stand in order of panels, load and data. A set-up that
is too heavy comes after those that are not, one that keeps no sub comes last. Panels of a mosaic cost a move each.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from astropy import units as u

from planner.exposure.guide_need import guided_share, verdict_of
from planner.exposure.guide_star import expected_star
from planner.exposure.scene import observing_scene
from planner.exposure.speed import SUB_LADDER, SpeedCurve
from planner.exposure.star_motion import kept_share, unguided_motion
from planner.exposure.sub_exposure import perfect_speed, speed_curve
from planner.rig import Rig
from planner.session.advice.guide_star import guide_star
from planner.session.match.combination import Combination
from planner.session.match.combinations import Combinations, clock
from planner.session.match.guiding_choice import rig_of
from planner.session.match.ranking import RANKINGS

AS_GOOD = 0.10  # of the time: nearer is equal, unless the observer says otherwise (common practice, no source)
ALIKE_BINNINGS = 0.02
MOVE = 2 * u.min  # to the next panel of a mosaic, centred again (common practice, no source)
CLEARLY = 0.05  # by which one figure must be better to outclass: more than the figures' own accuracy


@dataclass(frozen=True, kw_only=True)
class SetUp:
    """One telescope, reducer and camera on the mount."""

    choice: Combination  # with the binning advised
    binnings: tuple[int, ...]  # within 2 % of the best
    verdict: str  # unguided, either, guided, neither
    method: str  # the faster way: unguided or guided
    sub_exposure: u.Quantity[u.s]  # for the surface
    kept: float  # share of its subs
    surface_time: u.Quantity[u.h]  # whole target, or one square degree; infinite where no sub is kept
    detail_time: u.Quantity[u.h]
    load: u.Quantity[u.kg]  # of the parts whose mass is known
    data: u.Quantity[u.Gbyte / u.h]  # raw
    reason: str  # why it stands behind others; empty where it does not
    rank: int = 0
    as_good: bool = False  # as the first
    outclassed_by: int | None = None  # rank of one that is nowhere worse and somewhere clearly better

    @property
    def works(self) -> bool:
        """Whether any sub is kept."""
        return bool(np.isfinite(self.surface_time.value))

    @property
    def name(self) -> str:
        """What it is made of: ``long, 0.7 reducer, aps-c``."""
        parts = (self.choice.telescope, self.choice.reducer, self.choice.camera)
        return ", ".join(part.name for part in parts if part is not None)


def set_ups(asked: Combinations, *, as_good: float = AS_GOOD, any_load: bool = False) -> tuple[SetUp, ...]:
    """Return every set-up of the combinations on the mount, best first.

    Parameters
    ----------
    asked : Combinations
        From `weigh_combinations`; its ranking is the figure that counts.
    as_good : float
        Share of the time by which two may differ and still be equal.
    any_load : bool
        Whether a load beyond the mount's rating is no reason to stand behind.
    """
    judged = [_judged(asked, group) for group in _groups(asked)]
    return _outclassed(asked, _ordered(asked, judged, as_good, any_load))


def _groups(asked: Combinations) -> Iterator[list[Combination]]:
    """Return the binnings of each set-up, smallest first."""
    groups: dict[tuple[str, str, str], list[Combination]] = {}
    for choice in asked.weighed:
        reducer = "" if choice.reducer is None else choice.reducer.name
        groups.setdefault((choice.telescope.name, reducer, choice.camera.name), []).append(choice)
    for key in sorted(groups):
        yield sorted(groups[key], key=lambda choice: choice.binning)


def _judged(asked: Combinations, group: Sequence[Combination]) -> SetUp:
    """Return one set-up on the mount, with the binning that suits the ranking."""
    rig = rig_of(asked, replace(group[0], binning=1))
    verdict, method, ladder = _on_raw_frames(asked, rig)
    times = [_times(asked, choice, ladder, rig) for choice in group]
    figure = 1 if asked.ranking == "detail" else 0
    best = min(time[figure][1].value for time in times)
    alike = [place for place, time in enumerate(times) if time[figure][1].value <= best * (1 + ALIKE_BINNINGS)]
    place = alike[0] if alike else 0
    choice, (surface, detail) = group[place], times[place]
    step = int(np.argmin(np.abs(SUB_LADDER - surface[0])))
    load, data = load_of(asked, choice), _data(choice, surface[0], rig)
    return SetUp(
        choice=choice, binnings=tuple(group[one].binning for one in alike) or (choice.binning,), verdict=verdict,
        method=method, sub_exposure=surface[0], kept=float(ladder.kept[step]), surface_time=surface[1],
        detail_time=detail[1], load=load, data=data, reason=_reason(asked, ladder, load))


def _on_raw_frames(asked: Combinations, rig: Rig) -> tuple[str, str, SpeedCurve]:
    """Return the verdict, the faster way, and what it keeps at each step of the ladder."""
    goal, target = asked.goal, asked.target
    scene = observing_scene(rig, asked.site, asked.band, declination=asked.declination, hour_angle=asked.hour_angle,
                            brightness=goal.brightness, line=goal.line)
    motion = unguided_motion(scene)
    curves = {"unguided": speed_curve(scene, kept_share(scene, motion), SUB_LADDER.value)}
    star = None if target is None else guide_star(rig, target)
    if star is None and rig.guider is not None:
        star = expected_star(rig.guider, 90 * u.deg)
    held = guided_share(scene, motion, star)
    if held is not None:
        curves["guided"] = speed_curve(scene, held[2], SUB_LADDER.value)
    best = {way: float(curve.speed.max()) for way, curve in curves.items()}
    method = max(best, key=lambda way: best[way])
    perfect = max(perfect_speed(scene), *best.values()) if len(best) > 1 else max(perfect_speed(scene), best[method])
    return verdict_of(best["unguided"], best.get("guided"), perfect), method, curves[method]


def _times(asked: Combinations, choice: Combination, ladder: SpeedCurve, rig: Rig,
           ) -> tuple[tuple[u.Quantity, u.Quantity], tuple[u.Quantity, u.Quantity]]:
    """Return length and whole time of one binning for the surface and for detail."""
    overhead = rig.overhead(SUB_LADDER)
    spreads = (asked.goal.area.to_value(u.arcsec**2),
               choice.star.noise_equivalent_area.to_value(u.arcsec**2) / np.maximum(ladder.light, 1e-9))
    surface, detail = (clock(asked, overhead, choice.rates, spread, kept=ladder.kept) for spread in spreads)
    return (surface[0], whole(asked, choice, surface[1])), (detail[0], whole(asked, choice, detail[1]))


def whole(asked: Combinations, choice: Combination, one_field: u.Quantity[u.h]) -> u.Quantity[u.h]:
    """Return the time for the whole target, panels and moves between them, or that for one square degree."""
    if asked.target is None:
        return one_field / float(choice.field_area.to_value(u.deg**2))
    panels = choice.framing.panels
    return one_field * panels + (panels * MOVE.to(u.h) if panels > 1 else 0 * u.h)


def load_of(asked: Combinations, choice: Combination) -> u.Quantity[u.kg]:
    """Return the mass of the parts whose mass is known."""
    guider = asked.rig.guider
    masses = [choice.telescope.mass, choice.camera.mass, None if guider is None else guider.mass]
    return sum((mass for mass in masses if mass is not None), 0 * u.kg)


def _data(choice: Combination, length: u.Quantity[u.s], rig: Rig) -> u.Quantity[u.Gbyte / u.h]:
    """Return how fast raw frames of a length fill a disk."""
    size = choice.camera.columns * choice.camera.rows * -(-choice.camera.bit_depth // 8) / 1e9 * u.Gbyte
    return (size / (length + rig.overhead(length))).to(u.Gbyte / u.h)


def _reason(asked: Combinations, ladder: SpeedCurve, load: u.Quantity[u.kg]) -> str:
    """Return why a set-up stands behind others, or nothing."""
    if not ladder.kept.max() > 0:
        return "no length of sub keeps round stars on this mount"
    payload = asked.rig.mount.payload
    if payload is not None and load > payload:
        return f"at least {load.value:.1f} kg on a mount rated for {payload.value:g} kg"
    return ""


def _ordered(asked: Combinations, judged: Sequence[SetUp], as_good: float, any_load: bool) -> list[SetUp]:
    """Return the set-ups in order: what works and is not too heavy, what is too heavy, what does not work."""
    def place(one: SetUp) -> int:
        return 2 if not one.works else 1 if one.reason and not any_load else 0

    ordered: list[SetUp] = []
    for which in range(3):
        group = sorted((one for one in judged if place(one) == which),
                       key=lambda one: (order_figure(asked, one), one.name))
        for band in _bands([order_figure(asked, one) for one in group], as_good):
            equal = [group[number] for number in band]
            first = not ordered
            equal.sort(key=lambda one: (one.choice.framing.panels, round(one.load.value, 1), round(one.data.value, 2),
                                        one.name))
            ordered += [replace(one, as_good=first and which == 0) for one in equal]
    return [replace(one, rank=number) for number, one in enumerate(ordered, start=1)]


def order_figure(asked: Combinations, one: SetUp) -> float:
    """Return the figure that set-ups are ordered by, less first: hours, or what the ranking says."""
    figure = RANKINGS[asked.ranking].figure
    if figure is None:
        return float((one.detail_time if asked.ranking == "detail" else one.surface_time).to_value(u.h))
    return figure(one.choice, asked.target is not None)


def _bands(figures: Sequence[float], as_good: float) -> Iterator[list[int]]:
    """Return the places of ascending figures in bands of equals, each as wide as `as_good` of its first."""
    band: list[int] = []
    for number, figure in enumerate(figures):
        if band and figure > figures[band[0]] + as_good * abs(figures[band[0]]):
            yield band
            band = []
        band.append(number)
    if band:
        yield band


def _outclassed(asked: Combinations, ordered: Sequence[SetUp]) -> tuple[SetUp, ...]:
    """Return the set-ups with the rank of the first that is nowhere worse and somewhere clearly better."""
    if not ordered:
        return ()
    size = [one.choice.field_area.value if asked.target is None else 1 / one.choice.framing.panels for one in ordered]
    table = np.array([[one.surface_time.value, one.detail_time.value, one.choice.fwhm.value, 1 / big,
                       1 / max(one.choice.framing.share, 1e-9)] for one, big in zip(ordered, size, strict=True)])
    table = np.log(np.minimum(table, 1e30))
    found = []
    for number, one in enumerate(ordered):
        better = table[number] - table
        free = np.array([other.works and not other.reason for other in ordered])
        beats = np.flatnonzero(free & (better >= -CLEARLY / 5).all(axis=1) & (better > CLEARLY).any(axis=1))
        found.append(replace(one, outclassed_by=int(beats[0]) + 1 if beats.size else None))
    return tuple(found)
