"""Every check of a pier, each as the share that it takes of what it may: above 1 it speaks against the pier."""

import math
from dataclasses import dataclass
from typing import Annotated, Any

from astropy import units as u

from planner.fields import Key
from planner.pier.column.concrete import DRILLED_STRENGTH
from planner.pier.column.foot_plate import ROD_STRENGTH, cone_strength, plate_share, rod_share, rod_tension
from planner.pier.column.footing import Footing
from planner.pier.column.model import Column, TopLoads
from planner.pier.column.motion import STILL, pier_motion
from planner.pier.column.standing.actions import Action, actions, column_weight, top_weight
from planner.pier.column.standing.buckling import crack_share, falling_share, strength_share, thin_share
from planner.pier.column.standing.ground import (
    foot_pressure,
    pad_cracking,
    pad_pressure,
    pad_tipping,
    plate_tipping,
    slab_cracking,
    slab_reach_needed,
    tipping_force,
    tripod_tipping,
)
from planner.pier.column.stiffness import footing_stiffness
from planner.pier.objection import CHECK, UNSAFE, State, two_digits

COVER = {"pad": 50 * u.mm, "slab": 30 * u.mm}  # of concrete below rods (common practice, no source)
KEPT_FREQUENCY = 0.9  # of the mount's own: a pier may take a tenth off (common practice, no source)
VARIABLE_PULL = 1.5  # partial factor of a push on the rods, EN 1990 table A1.2(B)


@dataclass(frozen=True, kw_only=True)
class Check:
    """One check: what it concerns, what share it takes, what to say if that is above 1, and what cures it."""

    part: Annotated[str, "of the pier"]
    name: Annotated[str, "of what is checked"]
    share: Annotated[float, "1 is the limit; null: not given, or beyond all help", Key("load_share")]
    finding: str
    cure: str
    grade: State = UNSAFE


def inspect(column: Column, footing: Footing, loads: TopLoads) -> tuple[Check, ...]:
    """Return every check of a pier."""
    pushes = actions(column, footing, loads)
    falling = falling_share(column, loads, footing_stiffness(footing, column.width).softer)
    found = [*_column(column, loads, pushes, falling), *_foot(column, footing, loads, pushes)]
    found += {"pad": _pad, "slab": _slab, "suspended floor": _floor, "tripod": _tripod}.get(footing.kind, _nothing)(
        column, footing, loads, pushes)
    return (*found, *_stillness(column, footing, loads)) if falling < 1 else tuple(found)


def _column(column: Column, loads: TopLoads, pushes: tuple[Action, ...], falling: float) -> list[Check]:
    carried = f"{loads.mass:.3g}"
    bears = "nothing" if falling == math.inf else f"{two_digits(loads.mass / falling):g}"
    found = [Check(part="column", name="buckling", share=1.35 * falling, cure="column",
                   finding=f"It buckles: with {carried} on top it falls sideways by itself; {bears} are its end.")]
    if falling >= 1 / 1.35:
        return found
    if column.material == "concrete":
        share, worst = _worst(pushes, lambda push: crack_share(column, loads, push, falling))
        return [*found, Check(part="column", name="cracking", share=share, cure="column",
                              finding=f"{_capital(worst.name)} cracks it ({share:.1f} times what it bears plain).")]
    share, worst = _worst(pushes, lambda push: strength_share(column, loads, push, falling))
    thin = thin_share(column)
    return [*found,
            Check(part="column", name="bending", share=share, cure="column",
                  finding=f"{_capital(worst.name)} bends it for good ({share:.1f} times what it bears)."),
            Check(part="column", name="denting of its wall", share=thin, cure="wall", grade=CHECK,
                  finding=f"Its wall is {thin:.1f} times too thin for its width: it dents before the metal is used.")]


def _foot(column: Column, footing: Footing, loads: TopLoads, pushes: tuple[Action, ...]) -> list[Check]:
    """Return the checks of rods and foot plate, if there are any."""
    if not footing.rods:
        return _held(column, footing)
    weight = top_weight(loads) + column_weight(column)
    share, worst = _worst(pushes, lambda push: rod_share(
        footing, moment=VARIABLE_PULL * push.moment, force=VARIABLE_PULL * push.force, weight=1.35 * weight))
    found = [Check(part="rods", name="rods", share=share, cure="rods",
                   finding=f"{_capital(worst.name)} takes them beyond their strength ({share:.1f} times, "
                           f"{ROD_STRENGTH:g} steel).")]
    hardest = max(push.moment for push in pushes)
    pull = rod_tension(footing, moment=VARIABLE_PULL * hardest, weight=0.9 * weight)
    if column.material != "concrete" and footing.rod_circle < column.width:
        found.append(Check(part="rods", name="circle", share=float((column.width / footing.rod_circle).to_value(u.one)),
                           cure="rods", grade=CHECK, finding=(
                               f"Their circle of {footing.rod_circle:g} is within the column: no spanner gets there.")))
    if footing.plate_thickness is None:
        found.append(Check(part="foot plate", name="foot plate", share=math.inf, cure="plate", grade=CHECK,
                           finding="Its thickness is not given, and a thin one is the softest part of most piers."))
    else:
        bent = plate_share(footing, column.width, rod_tension(footing, moment=VARIABLE_PULL * hardest,
                                                              weight=0 * u.N))
        found.append(Check(part="foot plate", name="foot plate", share=bent, cure="plate",
                           finding=f"{footing.plate_thickness:g} bend for good under the pull of the rods."))
    return [*found, *_anchors(column, footing, pull)]


def _held(column: Column, footing: Footing) -> list[Check]:
    """Return what is not known of a metal column that no rods hold."""
    if column.material == "concrete" or footing.kind != "pad" or footing.embedded:
        return []
    return [Check(part="foot plate", name="hold in the pad", share=math.inf, cure="bolts", grade=CHECK,
                  finding="How the pad holds the column is not given: by rods and a foot plate, or "
                          "embedded, the tube itself set in it.")]


def _anchors(column: Column, footing: Footing, pull: u.Quantity) -> list[Check]:
    """Return the check of the rods' hold in concrete."""
    if footing.kind not in ("pad", "slab"):
        return []
    if footing.anchor_depth is None:
        return [Check(part="rods", name="anchor depth", share=math.inf, cure="anchor depth", grade=CHECK,
                      finding="How deep they sit in the concrete is not given.")]
    weak = footing.anchor != "cast-in" and column.concrete_strength < DRILLED_STRENGTH
    bears = cone_strength(footing, footing.anchor_depth, column.concrete_strength)
    share = float(pull / bears) if bears > 0 * u.N else math.inf
    return [Check(part="rods", name="anchor depth", share=share, cure="anchor depth",
                  finding=f"At {footing.anchor_depth:g} they come out of the concrete with a cone of it."),
            *_cover(footing, footing.anchor_depth),
            Check(part="concrete", name="anchors", share=math.inf if weak else 0.0, cure="concrete",
                  finding=f"Concrete weaker than C20/25 holds no {footing.anchor} anchors.")]


def _cover(footing: Footing, deep: u.Quantity) -> list[Check]:
    """Return whether pad or slab are thicker than the rods are deep."""
    thick, cover = footing.depth if footing.kind == "pad" else footing.slab_thickness, COVER[footing.kind]
    if thick is None:
        return []
    share = float(((deep + cover) / thick).to_value(u.one)) if thick > 0 * u.m else math.inf
    return [Check(part=footing.kind, name="cover below the rods", share=share, grade=UNSAFE if deep > thick else CHECK,
                  cure="depth" if footing.kind == "pad" else "fit", finding=(
                      f"The rods go in {deep:g} of its {thick.to(u.mm):g}: {cover:g} of concrete stay below them."))]


def _pad(column: Column, footing: Footing, loads: TopLoads, pushes: tuple[Action, ...]) -> list[Check]:
    if footing.depth is None:
        return [Check(part="pad", name="depth", share=math.inf, cure="pad", grade=CHECK,
                      finding="Its depth is not given: its weight alone keeps the pier upright.")]
    weight = top_weight(loads) + column_weight(column)
    tips, worst = _worst(pushes, lambda push: pad_tipping(footing, weight, push))
    pressure = max(pad_pressure(footing, weight, push) for push in pushes)
    sinks = float((pressure / footing.bearing_pressure).to_value(u.one))
    return [Check(part="pad", name="tipping", share=tips, cure="pad", finding=_tipping_words(worst, tips)),
            Check(part="soil", name="bearing", share=sinks, cure="wider",
                  finding=f"The pad's edge presses into it: {_pressure_text(pressure)}, it may bear "
                          f"{footing.bearing_pressure:.3g} (presumed, if nobody has tested it)."),
            Check(part="pad", name="pad cracking", cure="depth", grade=CHECK,
                  share=pad_cracking(footing, column.width, min(pressure, footing.bearing_pressure),
                                     column.concrete_strength),
                  finding="It is too thin for its width and cracks unless it is reinforced."), _frost(footing)]


def _frost(footing: Footing) -> Check:
    if footing.frost_depth is None:
        return Check(part="pad", name="frost", share=math.inf, cure="frost depth", grade=CHECK,
                     finding="How deep the ground freezes is not given: frost lifts a pad that does not reach below.")
    return Check(part="pad", name="frost", share=float(footing.frost_depth / footing.depth), cure="depth", grade=CHECK,
                 finding=f"The ground freezes to {footing.frost_depth:g}, below its underside: frost lifts it.")


def _slab(column: Column, footing: Footing, loads: TopLoads, pushes: tuple[Action, ...]) -> list[Check]:
    weight = top_weight(loads) + column_weight(column)
    if not footing.rods:
        tips, worst = _worst(pushes, lambda push: plate_tipping(footing, weight, push))
        return [Check(part="foot plate", name="tipping", share=tips, cure="bolts",
                      finding=_tipping_words(worst, tips) + " Nothing holds it down.")]
    hardest = max(push.moment for push in pushes)
    needed = slab_reach_needed(footing, weight, hardest)
    cracks = slab_cracking(footing, hardest, column.concrete_strength)
    if footing.slab_reach is None:
        reach = Check(part="slab", name="tipping", share=math.inf, cure="slab reach", grade=CHECK,
                      finding="How far it reaches around the column is not given.")
    else:
        reach = Check(part="slab", name="tipping", share=float(needed / footing.slab_reach), cure="slab reach",
                      finding="It has no thickness to hold the pier." if math.isinf(needed.value) else (
                          f"It is too light to hold the pier: it must reach {two_digits(needed):g} to every side."))
    return [reach, Check(part="slab", name="slab cracking", share=cracks, cure="own pad",
                         finding=f"{footing.slab_thickness:g} of plain concrete crack beside the foot plate.")]


def _floor(column: Column, footing: Footing, loads: TopLoads, pushes: tuple[Action, ...]) -> list[Check]:
    found = [Check(part="floor", name="footsteps", share=math.inf, cure="own pad", grade=CHECK,
                   finding="It moves with every step, whatever the column's own stiffness; its strength under the "
                           "column is a structural engineer's to judge.")]
    if footing.rods:
        return found
    weight = top_weight(loads) + column_weight(column)
    tips, worst = _worst(pushes, lambda push: plate_tipping(footing, weight, push))
    return [*found, Check(part="foot plate", name="tipping", share=tips, cure="own pad",
                          finding=_tipping_words(worst, tips) + " Nothing holds it down.")]


def _tripod(column: Column, footing: Footing, loads: TopLoads, pushes: tuple[Action, ...]) -> list[Check]:
    weight = top_weight(loads) + column_weight(column)
    pressure = foot_pressure(footing, weight)
    found = [Check(part="soil", name="bearing", cure="feet", grade=CHECK,
                   share=float((pressure / footing.bearing_pressure).to_value(u.one)),
                   finding=f"The feet press into it through the night: {_pressure_text(pressure)}, it may bear "
                           f"{footing.bearing_pressure:.3g} (presumed, if nobody has tested it).")]
    if footing.staked:
        return found
    just = tipping_force(footing, weight, column.height + loads.push_height)
    graded: tuple[tuple[State, tuple[Action, ...]], ...] = ((UNSAFE, pushes[:2]), (CHECK, pushes[2:]))
    for grade, some in graded:
        tips, worst = _worst(some, lambda push: tripod_tipping(footing, weight, push))
        found.append(Check(part="tripod", name="tipping" if grade == UNSAFE else "stumble", share=tips, cure="stakes",
                           grade=grade, finding=f"{_tipping_words(worst, tips)} {just:.0f} at the top just do."))
    return found


def _nothing(*_: object) -> list[Check]:
    return []


def _stillness(column: Column, footing: Footing, loads: TopLoads) -> list[Check]:
    """Return what the pier takes off the frequency of the mount on it, and its sway in the wind, over what they may."""
    motion = pier_motion(column, footing, loads)
    own, mount = motion.own_frequency, motion.mount_frequency
    least = mount * KEPT_FREQUENCY / math.sqrt(1 - KEPT_FREQUENCY**2)
    assumed = "" if loads.mount_frequency is not None else " (assumed: usual are 5 to 12 Hz, common practice)"
    return [
        Check(part="column and foot", name="shaking", share=float(least / own), cure="stiffness", grade=CHECK,
              finding=f"They swing at {own:.1f}: a mount that by itself swings at {mount:.3g}{assumed} is down to "
                      f"{motion.whole_frequency:.1f} on them."),
        Check(part="column and foot", name="sway in the wind", share=float(motion.sway / STILL), cure="stiffness",
              grade=CHECK, finding=f"Gusts of {loads.wind_speed.value:g} m/s sway them by {motion.sway.value:.1f}″ "
                                   f"rms, more than {STILL.value:g}″.")]


def _worst(pushes: Any, share: Any) -> Any:
    """Return the largest share of some pushes and the push that takes it."""
    shares = [(share(push), number) for number, push in enumerate(pushes)]
    largest, number = max(shares)
    return largest, pushes[number]


def _tipping_words(push: Action, share: float) -> str:
    return (f"{_capital(push.name)} turns it over" if share > 1.5 / 0.9 else
            f"{_capital(push.name)} is too near to turning it over") + f" ({share:.1f} times what it may take)."


def _pressure_text(pressure: u.Quantity[u.kPa]) -> str:
    return f"{two_digits(pressure):g}" if math.isfinite(pressure.value) else "its other edge lifts"


def _capital(text: str) -> str:
    return text[0].upper() + text[1:]
