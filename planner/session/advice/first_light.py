"""First light: what to measure, in which order, until the verdict no longer hangs on what nobody knows.

The order is that of `Certainty.order`: each step the one that adds most, and none that adds less than a few minutes a
night. A figure that carries a standard error of its own counts as measured, so the list goes on where the observer is.
"""

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Annotated, Any

from astropy import units as u

from planner.exposure.uncertainty import SETTLED, Certainty, MeasurementWorth, OpenInput
from planner.fields import Key, Maybe, told
from planner.session.advice.answer import Advice, advise
from planner.session.advice.text import headline, odds_text

DONE, NEXT, LATER, NEEDLESS = "done", "next", "later", "not worth it"
COMMON = ("Cables need slack for a whole turn: watch them at every slew.",
          "Dress for standing still in the cold, and know where you tread in the dark.")


@dataclass(frozen=True, kw_only=True)
class Measuring:
    """How one measurement is made."""

    title: str
    figures: tuple[str, ...]  # that it tells
    point: str
    record: str
    decides: str
    command: str = ""  # that reads and saves it
    cautions: tuple[str, ...] = ()

    @property
    def recorded(self) -> str:
        """What to record, with the command that takes it."""
        return f'{self.record} Then "{self.command}".' if self.command else self.record


TASKS: Mapping[str, Measuring] = {
    "polar alignment": Measuring(
        title="Polar axis", figures=("polar axis",),
        point="Anywhere that your frames can be solved; then turn only the RA axis, 30° or more between frames.",
        record="Three to five solved frames.", command="planner polar FILE --save",
        decides="How long a star stays put in declination, and whether to align again.",
        cautions=("Hold tube and counterweight before a clutch or an adjuster is loosened.",)),
    "drift log": Measuring(
        title="Drift log", figures=("periodic error", "jitter", "wander"),
        point="A star near the celestial equator and the meridian, guiding off, no dithers.",
        record="A row every second or two of the star's place.", command="planner drift FILE --save",
        decides="Whether to guide, and how long a sub may be without.",
        cautions=("Stay away from the pier while it runs: a touch is in the log.",)),
    "seeing": Measuring(
        title="Tonight's seeing", figures=("seeing",),
        point="High in the sky, in focus, a few seconds long.",
        record="A test frame: the width at the zenith goes into the site.", command="planner frame FILE --save",
        decides="Which length is best tonight."),
    "sky brightness": Measuring(
        title="Sky brightness", figures=("sky",),
        point="The zenith on a night without Moon.",
        record='The reading as sky_brightness of the site, with its error: "21.0 ± 0.1 mag/arcsec2".',
        decides="When read noise no longer matters, and how deep a night goes."),
    "read noise": Measuring(
        title="Read noise", figures=("read noise",),
        point="Indoors by day, cap on.",
        record='Two bias frames of the gain in use; the rms of their difference over √2, in electrons, as read_noise.',
        decides="How short a sub may be.",
        cautions=("Never point an uncapped telescope anywhere near the Sun.",)),
}


@dataclass(frozen=True, kw_only=True)
class MeasuringStep:
    """One measurement of the list."""

    measurement: Annotated[str, "its name"]
    task: Measuring
    state: Annotated[str, "done, next, later or not worth it"]
    minutes: Annotated[float, "that it takes"]
    hours_per_night: Annotated[u.Quantity[u.h], "what it adds to those before it", Key("gain_hours_per_night")]
    point = told(str, "where to point", lambda step: step.task.point)
    record = told(str, "what to record", lambda step: step.task.recorded)
    decides = told(str, "what it settles", lambda step: step.task.decides)
    cautions = told(tuple[str, ...], "what to beware of", lambda step: step.task.cautions)


@dataclass(frozen=True, kw_only=True)
class FirstLight:
    """The list, and whether it is closed."""

    verdict: str  # the advice's headline
    sentence: str
    settled: bool
    steps: tuple[MeasuringStep, ...]


@dataclass(frozen=True)
class FirstLightAnswer:
    """The list for an advice; without one where there is no verdict to settle."""

    advice: Advice
    found: FirstLight | None
    target = told(str, "what is to be settled for", lambda answer: answer.advice.target.name)
    rig = told(str, "its name", lambda answer: answer.advice.rig.name)
    site = told(str, "its name", lambda answer: answer.advice.site.name)
    night = told(datetime.date, "its evening", lambda answer: answer.advice.night.date)
    verdict = told(str | None, "of the advice", lambda answer: answer.advice.need and answer.advice.need.verdict)
    sentence = told(str, "how far it is settled", lambda answer:
                    answer.found.sentence if answer.found else answer.advice.window.reason)
    settled = told(bool, "whether the verdict hangs on nothing unknown", lambda answer:
                   answer.found is not None and answer.found.settled)
    steps = told(tuple[MeasuringStep, ...], "in order", lambda answer: answer.found.steps if answer.found else ())
    cautions = told(tuple[str, ...], "what to beware of", lambda answer: COMMON if answer.found else None, Maybe())


def first_light(advice: Advice) -> FirstLight | None:
    """Return what to measure, in order; None where there is no verdict to settle."""
    sure = advice.certainty
    if sure is None:
        return None
    added = {worth.measurement: worth for worth in sure.order}
    alone = {worth.measurement: worth for worth in sure.measure_next}
    names = [*added, *(name for name in TASKS if name not in added)]
    steps = [_step(name, added.get(name), alone.get(name), sure.inputs) for name in names]
    following = next((step for step in steps if step.state == LATER), None)
    steps = [step if step is not following else replace(step, state=NEXT) for step in steps]
    order = {DONE: 0, NEXT: 1, LATER: 2, NEEDLESS: 3}
    return FirstLight(verdict=headline(advice, sure), sentence=_sentence(sure, added),
                      settled=not added or max(sure.odds.values()) >= SETTLED,
                      steps=tuple(sorted(steps, key=lambda step: order[step.state])))


def first_light_for(*asked: Any, **more: Any) -> FirstLight | None:
    """Return the list for what is asked as of `advise`; its errors are raised."""
    return first_light(advise(*asked, **more))


def _step(name: str, added: MeasurementWorth | None, alone: MeasurementWorth | None, inputs: tuple[OpenInput, ...]
          ) -> MeasuringStep:
    task = TASKS[name]
    about = [item for item in inputs if item.figure in task.figures]
    measured = not about or any(not item.assumed for item in about)
    worth = added or alone
    state = LATER if added is not None else DONE if measured else NEEDLESS
    return MeasuringStep(measurement=name, task=task, state=state, minutes=0.0 if worth is None else worth.minutes,
                hours_per_night=0 * u.h if worth is None else worth.hours_per_night)


def _sentence(sure: Certainty, added: Mapping[str, MeasurementWorth]) -> str:
    share = max(sure.odds.values())
    odds = odds_text(sure)
    if not added:
        return f"Settled: {odds}, and nothing that you could measure would save more than a few minutes a night."
    first = next(iter(added.values())).sentence
    if share >= SETTLED:
        return f"The verdict stands ({odds}); knowing more would still better the length of a sub. {first}"
    return f"Not settled yet ({odds}). {first}"
