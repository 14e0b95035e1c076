"""The odds of each verdict, the length that is best on average, and what knowing or changing something is worth.

For each draw of the inputs both ways of working are computed again, at every length; the draws are quasi-random and
always the same.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated

import numpy as np
from astropy import units as u

from planner.cores import over_cores
from planner.exposure.guide_need import GuideNeed, Verdict, verdict_of
from planner.exposure.reasons import GUIDER_GAIN
from planner.exposure.scene import Scene
from planner.exposure.speed import SUB_LADDER
from planner.exposure.sub_exposure import TIE, shortest_best
from planner.exposure.uncertainty.drawn import LADDER_S, Drawn, Ways
from planner.exposure.uncertainty.first_subs import FirstSubs, first_subs, subs_of_a_turn
from planner.exposure.uncertainty.inputs import POLAR, Draw, OpenInput, open_inputs
from planner.exposure.uncertainty.knowing import (
    WORTH_SAYING,
    Knowledge,
    MeasurementWorth,
    saved_hours,
    worth_sentence,
    worths,
)
from planner.fields import Key
from planner.rig.choices import Way
from planner.sky.dark_sky import DARKEST_SKY
from planner.tracking.moments.even_draws import even_normals

VERDICTS: tuple[Verdict, ...] = ("unguided", "either", "guided", "neither")
DRAWS, LEAST_PER_INPUT = 64, 3
GUIDED = 1  # place of the guided way in a draw
AS_IT_STANDS = Draw((), np.zeros(0))
SETTLED = 0.95  # of the draws agree on the verdict
NOTHING = 1e-3  # of the speed of the inputs as they stand: as good as nothing
CLOSE = 0.99  # of a draw's best speed: a length this good is as good as the best
MOST = (0.1, 0.9)  # between these quantiles lie eight of ten
LEAST_CHANGE = 0.95  # of a figure: a smaller change is none
# What can be changed: how it is said, and by what the inputs of a figure are multiplied.
CHANGES = {
    "polar axis": ("Halve the polar error", "polar axis", 0.5),
    "drive": ("Halve the periodic error", "periodic error", 0.5),
    "sky": ("Go where the sky is a magnitude darker", "sky", 10**-0.4),
}


@dataclass(frozen=True, kw_only=True)
class Improvement:
    """What one change of the rig or the site would bring."""

    change: Annotated[str, "what is changed"]
    hours_per_night: Annotated[u.Quantity[u.h], "clock time saved in the window", Key("gain_hours_per_night")]
    sentence: Annotated[str, "what to change, and what it brings"]

    @property
    def worth_saying(self) -> bool:
        """Whether it brings more than a few minutes, by a change that an observer can make where the rig stands."""
        return self.change != "sky" and self.hours_per_night.to_value(u.h) >= WORTH_SAYING


@dataclass(frozen=True, kw_only=True)
class Certainty:
    """The verdict over everything that the inputs leave open; of itself it tells what is best on average."""

    draws: int
    odds: dict[str, float]  # of each verdict, sum 1
    inputs: tuple[OpenInput, ...]
    method: Annotated[Way, "best on average"]
    sub_exposure: Annotated[u.Quantity[u.s], "best on average"]
    close_share: Annotated[float, "of the draws in which that length is within 1 % of the best",
                           Key("within_one_percent_fraction")]
    at_risk: Annotated[float, "share of the best speed lost on average by not knowing", Key("at_risk_fraction")]
    gain: Annotated[float, "by how much its mean speed exceeds that of the verdict's way and length; 0 where they tie",
                    Key("gain_over_verdict_fraction")]
    first_subs: FirstSubs | None  # what to look for in the first subs of that length; None: looking is not worth it
    # Of eight draws in ten: between which lengths the best one of that method lies, and the depth against that of the
    # inputs as they stand (minus infinity where nothing is kept).
    best_lengths: Annotated[tuple[u.Quantity[u.s], ...], "between which lengths the best one of that method lies, in "
                            "eight draws of ten", u.s, Key("best_in_eight_of_ten_s")]
    deeper: tuple[u.Quantity[u.mag], u.Quantity[u.mag]]
    measure_next: tuple[MeasurementWorth, ...]  # from the most worth down
    order: tuple[MeasurementWorth, ...]  # one after the other, while the next adds more than a few minutes
    improve: tuple[Improvement, ...]  # what can be done where the rig stands first, then by worth

    @property
    def assumed(self) -> bool:
        """Whether any of the spreads is a usual one, not a standard error that somebody gave."""
        return any(item.assumed for item in self.inputs)

    @property
    def worth_measuring(self) -> bool:
        """Whether a measurement would bring more than a few minutes a night."""
        return self.measure_next[0].hours_per_night.to_value(u.h) >= WORTH_SAYING

    @property
    def advice(self) -> str:
        """What to measure next, in one sentence."""
        if not self.worth_measuring:
            return "Nothing that you could measure would change what to do by more than a few minutes a night."
        return self.measure_next[0].sentence


def certainty(scene: Scene, need: GuideNeed, *, draws: int = DRAWS) -> Certainty:
    """Return the odds of each verdict, the length that is best on average, and what to measure next.

    `need`: the verdict at the inputs as they stand. `draws`: Quasi-random; the same number gives the same answer. At
    least three for each input; half of them where all of these agree on the verdict and nothing is worth measuring.
    """
    inputs, ways = open_inputs(scene, need.loop), Ways(scene, need)
    drawn: list[Drawn] = []
    for off in _in_two_parts(max(draws, LEAST_PER_INPUT * len(inputs)), len(inputs)):
        drawn += over_cores(lambda row: ways.at(Draw(inputs, row)), list(off[len(drawn):]))
        speeds, perfect, sky = (np.array([getattr(one, part) for one in drawn])
                                for part in ("speeds", "perfect", "background"))
        best = speeds.max(axis=2)  # (draws, ways)
        verdicts = [verdict_of(alone, held if need.guided is not None else None, ideal)
                    for (alone, held), ideal in zip(best, perfect, strict=True)]
        measure_next, order = worths(scene, inputs, Knowledge(speeds.reshape(len(drawn), -1), off),
                                     WORTH_SAYING * u.h)
        if len(set(verdicts)) == 1 and not order:
            break
    means = speeds.mean(axis=0)
    own = int(need.better is need.guided), int(np.flatnonzero(need.better.recommended == SUB_LADDER)[0])
    way, length = _best_on_average(means, own)
    top, chosen = best.max(axis=1), speeds[:, way, length]
    standing = ways.at(AS_IT_STANDS)
    return Certainty(
        draws=len(drawn), odds={name: verdicts.count(name) / len(drawn) for name in VERDICTS}, inputs=inputs,
        method=("unguided", "guided")[way], sub_exposure=SUB_LADDER[length],
        close_share=float(np.mean(chosen >= CLOSE * top)),
        at_risk=float(1 - chosen.mean() / top.mean()) if top.any() else 0.0,
        gain=float(means[way, length] / means[own] - 1) if means[own] > 0 else 0.0,
        first_subs=_look(scene, drawn, way, length),
        best_lengths=_most(SUB_LADDER[[shortest_best(row) for row in speeds[:, way]]]),
        deeper=_deeper(_gathered(standing), chosen / sky), measure_next=measure_next, order=order,
        improve=_improvements(ways, standing, need, inputs))


def _in_two_parts(draws: int, inputs: int) -> tuple[np.ndarray, np.ndarray]:
    """Return half of the draws (n, inputs), at least three for each input, and all of them: even and white, both."""
    some = min(max(draws // 2, LEAST_PER_INPUT * inputs), draws)
    first = even_normals(some, inputs) if inputs else np.zeros((some, 0))
    rest = even_normals(draws - some, inputs) if inputs and draws > some + inputs else first[:draws - some]
    return first, np.concatenate([first, -np.roll(rest, 1, axis=1)])  # the same values of other inputs together


def _best_on_average(means: np.ndarray, own: tuple[int, int]) -> tuple[int, int]:
    """Return the way and length of the best mean speed (2, lengths); those of the verdict where they are as good."""
    if means[own] >= TIE * means.max():
        return own
    way = int(np.argmax(means.max(axis=1)))
    return way, shortest_best(means[way])


def _look(scene: Scene, drawn: Sequence[Drawn], way: int, length: int) -> FirstSubs | None:
    """Return what to look for in the first subs of a way and length; a loop leaves no turn of the drive to wait for."""
    first = SUB_LADDER[length]
    periods = u.Quantity([] if way == GUIDED else [term.period for term in scene.rig.mount.periodic], u.s)
    return first_subs(np.array([one.speeds[way] for one in drawn]),
                      np.array([one.kept_at_first(way, LADDER_S[length]) for one in drawn]), length,
                      subs_of_a_turn(first + scene.rig.overhead(first), periods))


def _gathered(drawn: Drawn, *, exact: np.ndarray | float = 1.0) -> float:
    """Return how fast the best way and length gather squared signal-to-noise, over the background as it stands."""
    return float((drawn.speeds / exact).max()) / drawn.background


def _deeper(now: float, rates: np.ndarray) -> tuple[u.Quantity, u.Quantity]:
    """Return by how many magnitudes the depth may differ; squared signal-to-noise goes with the flux squared.

    Infinitely less deep where next to nothing is kept.
    """
    if not now > 0:
        return 0 * u.mag, 0 * u.mag
    ratio = rates / now
    return _most(1.25 * np.log10(ratio, out=np.full(ratio.shape, -np.inf), where=ratio > NOTHING) * u.mag)


def _most(values: u.Quantity) -> tuple[u.Quantity, u.Quantity]:
    """Return between which two of the values eight of ten lie."""
    return tuple(np.quantile(values, share, method="nearest") for share in MOST)


def _improvements(ways: Ways, standing: Drawn, need: GuideNeed, inputs: Sequence[OpenInput]
                  ) -> tuple[Improvement, ...]:
    """Return what each change would bring of clock hours, from the most down; a guider for a rig without one."""
    # Both sides of a change on the same few exposures: the best lengths differ, and so does what is wrong with them.
    scene, now = ways.scene, _gathered(standing, exact=ways.exact)
    if not now > 0:
        return ()
    gains: dict[str, tuple[str, u.Quantity]] = {}
    for name, (words, figure, factor) in CHANGES.items():
        about = [item for item in inputs if item.figure == figure]
        if name == "sky":
            darker = float(np.clip((DARKEST_SKY - scene.site.sky_brightness).value, 0.0, 1.0))
            words, factor = words if darker == 1 else f"Go where the sky is {darker:.1f} mag darker", factor**darker
        if about and factor < LEAST_CHANGE:
            off = np.array([_steps(scene, item, factor) for item in about])
            gains[name] = words, saved_hours(scene, now, _gathered(ways.at(Draw(about, off)), exact=ways.exact))
    if need.with_guider is not None and need.with_guider >= GUIDER_GAIN:
        gains["guider"] = "Guide with a plain guide scope", saved_hours(scene, 1.0, need.with_guider)
    found = [Improvement(change=name, hours_per_night=gain, sentence=worth_sentence(words, gain))
             for name, (words, gain) in gains.items()]
    return tuple(sorted(found, key=lambda change: (not change.worth_saying, -change.hours_per_night)))


def _steps(scene: Scene, item: OpenInput, factor: float) -> float:
    """Return how many standard deviations multiply an input by a factor."""
    if item.figure != "polar axis":
        return np.log(factor) / item.spread
    return (factor - 1) * scene.rig.mount.axis[POLAR[item.name]].to_value(u.arcmin) / item.spread
