"""The whole answer about a column: does it stand, does it stand still, and when does its concrete take the mount."""

from dataclasses import dataclass
from typing import Annotated, ClassVar

from astropy import units as u

from planner.fields import Key, Spread, told
from planner.pier.column.concrete import COLD, ConcreteAge, concrete_age
from planner.pier.column.footing import Footing
from planner.pier.column.model import Column, TopLoads
from planner.pier.column.standing.actions import STUMBLE
from planner.pier.column.standing.verdict import Standing, judge_standing
from planner.pier.column.sway import ColumnResponse, column_response
from planner.pier.objection import CHECK, GOOD, Objection, State, worst

STAYED = 20 * u.deg_C  # what the law of strength starts from
WARM = "Wait for warmer days, or keep it warm under cover until it is hard."
COOL = "Pour in the cool of the day, shade it and keep it wet for at least a week."


@dataclass(frozen=True, kw_only=True)
class ColumnAnswer:
    """Verdict, objections and what they rest on."""

    good: ClassVar[str] = "nothing here tips, sinks, buckles, cracks or shakes."
    verdict: Annotated[State, "on the pier"]
    objections: Annotated[tuple[Objection, ...], "what speaks against it"]
    standing: Annotated[Standing, Spread()]
    response: Annotated[ColumnResponse, Spread()]
    column: Column
    age: Annotated[ConcreteAge | None, "null where nothing of this pier is poured", Key("concrete")]
    judged: tuple[str, ...]  # the verdict in words, and what it was judged for
    notes: tuple[str, ...]  # how the pier moves, and when its concrete takes the mount
    column_mass = told(u.kg, "with its filling", lambda answer: answer.column.mass)
    shear_share = told(float, "what shear would add to the bending", lambda answer: answer.column.shear_share)

    @property
    def lines(self) -> Annotated[tuple[str, ...], "all of it in words", Key("reasons")]:
        """All of it in words."""
        return (*self.judged, *self.notes)


def judge_column(column: Column, footing: Footing, loads: TopLoads, *, latitude: u.Quantity[u.deg],
                 concrete_temperature: u.Quantity[u.deg_C] = STAYED) -> ColumnAnswer:
    """Return the answer about one column.

    `latitude`: of the site, for the polar axis. `concrete_temperature`: mean of the concrete since it was poured.
    """
    standing = judge_standing(column, footing, loads)
    response = column_response(column, footing, loads, latitude=latitude)
    age = None
    if is_poured(column, footing):
        age = concrete_age(column.concrete_strength, cement=column.cement, temperature=concrete_temperature,
                           anchor=footing.anchor if footing.rods else "cast-in")
    weather: tuple[Objection, ...] = ()
    if age is not None and age.weather:
        remedy = WARM if age.temperature < COLD else COOL
        weather = (Objection(part="concrete", finding=age.weather, remedy=remedy),)
    objections = (*standing.objections, *weather)
    verdict = worst((standing.verdict, CHECK if weather else GOOD))
    return ColumnAnswer(verdict=verdict, objections=objections, standing=standing, response=response, age=age,
                        column=column, judged=(*_lines(verdict, objections), _judged_for(footing, loads)),
                        notes=(*_still_lines(response, loads), *(() if age is None else (age.answer,))))


def is_poured(column: Column, footing: Footing) -> bool:
    """Whether any of the pier is concrete: the column, a pad, or a slab that may be new."""
    return column.material == "concrete" or footing.kind in ("pad", "slab")


def _lines(verdict: State, objections: tuple[Objection, ...]) -> tuple[str, ...]:
    head = (f"Good: {ColumnAnswer.good}",) if verdict == GOOD else ()
    told = [one.remedy for one in objections]
    remedies = ["The same remedy." if remedy in told[:place] else remedy for place, remedy in enumerate(told)]
    return (*head, *(f"{one.part.capitalize()}: {one.finding} {remedy}"
                     for one, remedy in zip(objections, remedies, strict=True)))


def _judged_for(footing: Footing, loads: TopLoads) -> str:
    """Return what the verdict rests on: the figures are the local code's to set."""
    gust = (f"a gust of {loads.wind_speed.value:g} m/s, taken in before a storm" if footing.kind == "tripod" else
            f"a storm of {loads.storm.value:g} m/s")
    soil = f", soil that bears {footing.bearing_pressure:.3g}" if footing.kind in ("pad", "tripod") else ""
    return (f"Judged for {gust}, somebody who stumbles against it ({STUMBLE:g}) and your push of {loads.push:g}{soil}: "
            "your local code has the figures that bind.")


def _still_lines(response: ColumnResponse, loads: TopLoads) -> tuple[str, ...]:
    motion = response.motion
    if motion.own_frequency <= 0 * u.Hz:
        return ()
    assumed = " (assumed)" if response.mount_assumed else ""
    touch, slew = (_lasts(time.value) for time in (motion.after_touch, motion.after_slew))
    return (f"Column and foot swing at {motion.own_frequency:.1f}; with a mount that by itself, adapter and all, "
            f"swings at {motion.mount_frequency:.3g}{assumed} the whole swings at {motion.whole_frequency:.1f}.",
            f"Gusts of {loads.wind_speed.value:g} m/s sway the star by {motion.sway.value:.2f}″ rms on either axis. A "
            f"touch of {loads.push:g} is over {touch}, a slew {slew}, with damping of {100 * loads.damping:g} % (0.3 "
            "to 3 % are usual: three times as long, or a third).",
            'With pier = "pier.toml" in a [[rig]] of your equipment, "planner advise" tells what the sway costs; '
            '"planner pier sway" measures it.',
            *response.reasons)


def _lasts(seconds: float) -> str:
    return "at once" if seconds < 0.5 else f"after {seconds:.0f} s"
