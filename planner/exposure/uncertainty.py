"""How sure: the verdict over what the inputs leave open, and what knowing one of them better would be worth.

Every uncertain input is drawn about its value, quasi-random and always the same; for each draw both ways of working are
computed again, at every length. From one set of draws come the odds of each verdict, the length that is best on
average, and the expected gain of knowing an input exactly: partial perfect information by regression on the same draws
[SOB14]_. A smaller star variance in better seeing acts as a larger motion.

References
----------
.. [SOB14] M. Strong, J. E. Oakley and A. Brennan, Med. Decis. Making 34, 311 (2014), doi:10.1177/0272989X13505910.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from astropy import units as u

from planner.exposure.guide_need import NEITHER, GuideNeed, verdict_of
from planner.exposure.scene import Scene, with_mount
from planner.exposure.speed import SUB_LADDER
from planner.exposure.star_motion import StarMotion, guided_motion, kept_share, unguided_motion
from planner.exposure.sub_exposure import perfect_speed, speed_curve
from planner.tracking.even_draws import even_normals

VERDICTS = ("unguided", "either", "guided", "neither")
DRAWS = 48
NODES = np.geomspace(SUB_LADDER[0].value, SUB_LADDER[-1].value, 19) * u.s
MIDDLES, PHASES = 4, 34
# Standard deviations of natural logarithms: figures of a class of drives, and figures that somebody typed. Common
# practice, no source, until a measurement says better.
CLASS_SPREAD = {"periodic error": 0.5, "polar axis": 0.5, "jitter": 0.4, "wander": 0.5}
TYPED_SPREAD = {"periodic error": 0.25, "polar axis": 0.3, "jitter": 0.3, "wander": 0.3}
SKY_SPREAD, READ_NOISE_SPREAD = 0.2, 0.1  # a fifth of a magnitude; from sensor to sensor
# What is measured together, how it is said, and what it tells.
MEASUREMENTS: Mapping[str, tuple[str, tuple[str, ...]]] = {
    "drift log": ("Record a drift log of an hour", ("periodic error", "jitter", "wander")),
    "polar alignment": ("Measure the polar axis", ("polar axis",)),
    "seeing": ("Record the width of your stars over some nights", ("seeing",)),
    "sky brightness": ("Measure the brightness of your sky", ("sky",)),
    "read noise": ("Measure the read noise of your camera", ("read noise",)),
}
WORTH_SAYING = 3 / 60  # hours a night: less is not worth a clear hour
CLOSE = 0.99  # of a draw's best speed: a length this good is as good as the best


@dataclass(frozen=True, kw_only=True)
class Worth:
    """What one measurement would bring."""

    measurement: str
    hours_per_night: u.Quantity[u.h]  # of clock time saved in the window
    sentence: str


@dataclass(frozen=True, kw_only=True)
class Certainty:
    """The verdict over everything that the inputs leave open."""

    odds: dict[str, float]  # of each verdict, sum 1
    spreads: dict[str, float]  # standard deviation of each input's natural logarithm
    method: str  # guided or unguided: best on average
    sub_exposure: u.Quantity[u.s]  # best on average
    close_share: float  # of the draws in which that length is within 1 % of the best
    at_risk: float  # share of the best speed lost on average by not knowing
    measure_next: tuple[Worth, ...]  # from the most worth down

    @property
    def advice(self) -> str:
        """What to measure next, in one sentence."""
        first = self.measure_next[0]
        if first.hours_per_night.to_value(u.h) < WORTH_SAYING:
            return "Nothing that you could measure would change what to do by more than a few minutes a night."
        return first.sentence


def certainty(scene: Scene, need: GuideNeed, *, draws: int = DRAWS) -> Certainty:
    """Return the odds of each verdict, the length that is best on average, and what to measure next.

    Parameters
    ----------
    scene : Scene
    need : GuideNeed
        The verdict at the inputs as they stand.
    draws : int
        Quasi-random; the same number gives the same answer.

    Returns
    -------
    Certainty
    """
    spreads = input_spreads(scene)
    normal = even_normals(draws, len(spreads))
    factors = {name: np.exp(spread * column) for (name, spread), column in zip(spreads.items(), normal.T, strict=True)}
    speeds, perfect = _speeds(scene, need, factors)
    best = speeds.max(axis=2)  # (draws, ways)
    verdicts = [verdict_of(alone, held if need.guided is not None else None, ideal)
                for (alone, held), ideal in zip(best, perfect, strict=True)]
    means = speeds.mean(axis=0)
    way, length = np.unravel_index(int(np.argmax(means)), means.shape)
    top, chosen = best.max(axis=1), speeds[:, way, length]
    hours = scene.length / max(float(means.max()), np.finfo(float).tiny)
    return Certainty(
        odds={name: verdicts.count(name) / draws for name in VERDICTS}, spreads=spreads,
        method=("unguided", "guided")[way], sub_exposure=SUB_LADDER[length],
        close_share=float(np.mean(chosen >= CLOSE * top)), at_risk=float(1 - chosen.mean() / top.mean()),
        measure_next=_worths(speeds.reshape(draws, -1), dict(zip(spreads, normal.T, strict=True)), hours))


def input_spreads(scene: Scene) -> dict[str, float]:
    """Return the standard deviation of the natural logarithm of each uncertain input that is there."""
    mount = scene.rig.mount
    known = CLASS_SPREAD if mount.drive_class is not None else TYPED_SPREAD
    there = {"periodic error": bool(mount.periodic), "jitter": mount.jitter > 0 * u.arcsec,
             "polar axis": mount.polar_altitude_error != 0 or mount.polar_azimuth_error != 0,
             "wander": mount.wander.value > 0}
    return {name: spread for name, spread in known.items() if there[name]} | {
        "seeing": scene.site.seeing_spread, "sky": SKY_SPREAD, "read noise": READ_NOISE_SPREAD}


def _speeds(scene: Scene, need: GuideNeed, factors: dict[str, np.ndarray]) -> tuple[np.ndarray, np.ndarray]:
    """Return the speed of each draw, way and length (draws, 2, lengths), and the best of a still mount (draws,)."""
    count = len(next(iter(factors.values())))
    speeds, perfect = np.zeros((count, 2, SUB_LADDER.size)), np.zeros(count)
    for draw in range(count):
        factor = {name: float(values[draw]) for name, values in factors.items()}.get
        one, width = _drawn(scene, factor)
        ways: list[StarMotion] = [unguided_motion(one)]
        held = _held(one, need, factor)
        ways += [] if held is None else [held]
        for way, motion in enumerate(ways):
            shares = kept_share(one, motion, nodes=NODES, middles=MIDDLES, phases=PHASES)
            speeds[draw, way] = speed_curve(one, shares, SUB_LADDER.value).speed / width
        perfect[draw] = speed_curve(one, None, SUB_LADDER.value).speed.max() / width
        if speeds[draw].max() < NEITHER * perfect[draw]:  # elsewhere the air does not decide
            perfect[draw] = perfect_speed(one) / width
    return speeds, perfect


def _drawn(scene: Scene, factor: Callable[[str, float], float]) -> tuple[Scene, float]:
    """Return the scene of one draw, and how many times larger its still star's area is."""
    mount, response = scene.rig.mount, scene.response
    part = min(float((scene.seeing_fwhm / response.still.fwhm).to_value(u.one)) ** 2, 1.0)
    wider = 1 + part * (factor("seeing", 1.0) ** 2 - 1)
    polar = factor("polar axis", 1.0)
    terms = tuple(replace(term, amplitude=term.amplitude * factor("periodic error", 1.0)) for term in mount.periodic)
    one = with_mount(
        scene, periodic=terms, jitter=mount.jitter * factor("jitter", 1.0), wander=mount.wander * factor("wander", 1.0),
        polar_altitude_error=mount.polar_altitude_error * polar, polar_azimuth_error=mount.polar_azimuth_error * polar)
    return replace(one, response=replace(response, still_variance=response.still_variance * wider),
                   sky_rate=scene.sky_rate * factor("sky", 1.0),
                   read_noise=scene.read_noise * factor("read noise", 1.0)), wider


def _held(scene: Scene, need: GuideNeed, factor: Callable[[str, float], float]) -> StarMotion | None:
    """Return the guided motion of one draw: the loop as set for the inputs as they stand, each of its terms scaled."""
    loop, star = need.loop, need.guide_star
    if loop is None or star is None:
        return None
    seeing = factor("seeing", 1.0)
    scale = {"periodic error": factor("periodic error", 1.0), "jitter": factor("jitter", 1.0),
             "wander": factor("wander", 1.0), "guide star noise": seeing, "image motion": seeing ** (5 / 6)}
    squares = {"ra": 0.0, "dec": 0.0}
    for term in loop.terms:
        squares[term.axis] += (term.rms.to_value(u.arcsec) * scale.get(term.term, 1.0)) ** 2
    one = replace(loop, ra_rms=np.sqrt(squares["ra"]) * u.arcsec, dec_rms=np.sqrt(squares["dec"]) * u.arcsec,
                  left_amplitudes=loop.left_amplitudes * scale["periodic error"])
    return guided_motion(scene, one, guide_star_offset=star.offset)


def _worths(speeds: np.ndarray, drawn: dict[str, np.ndarray], hours: u.Quantity) -> tuple[Worth, ...]:
    """Return what each measurement would bring, from the most down; `speeds` are (draws, actions)."""
    found = []
    for name, (words, inputs) in MEASUREMENTS.items():
        known = [drawn[key] for key in inputs if key in drawn]
        if known:
            gain = max(_expected_best(speeds, known) - float(speeds.mean(axis=0).max()), 0.0) * hours
            found.append(Worth(measurement=name, hours_per_night=gain, sentence=_sentence(words, gain)))
    return tuple(sorted(found, key=lambda worth: -worth.hours_per_night))


def _expected_best(speeds: np.ndarray, known: list[np.ndarray]) -> float:
    """Return the mean over draws of the best action, each action's speed regressed on what would be known."""
    columns = [np.ones(len(speeds))] + [values**power for values in known for power in (1, 2)]
    design = np.stack(columns, axis=1)
    fitted = design @ np.linalg.lstsq(design, speeds, rcond=None)[0]
    return float(fitted.max(axis=1).mean())


def _sentence(words: str, gain: u.Quantity) -> str:
    """Return the worth of a measurement in words."""
    value = gain.to_value(u.h)
    if value < WORTH_SAYING:
        return f"{words}: worth next to nothing here."
    size = f"{value:.1f} h" if value >= 0.95 else f"{value * 60:.0f} min"
    return f"{words}: worth {size} a night."
