"""How the column answers: its own frequencies, and what wind, a hand, a weight and a person do to the polar axis."""

from dataclasses import dataclass
from typing import Annotated

from astropy import units as u

from planner.fields import Key, Spread, told
from planner.pier.column.beam import Bending, Vibration, bend
from planner.pier.column.footing import Footing
from planner.pier.column.isolation import isolation_words
from planner.pier.column.model import Column, TopLoads
from planner.pier.column.motion import PierMotion, beam_of, grown, pier_motion, swinging, wind_bending
from planner.pier.column.polar import PolarShift, polar_shift, warm_bending, warm_words
from planner.pier.column.standing.actions import off_balance, wind_force
from planner.pier.column.standing.buckling import falling_share
from planner.pier.column.steps import person_tilt, settlement_tilt
from planner.pier.column.stiffness import FootingStiffness, footing_stiffness

STROUHAL = 0.18  # of a circular cylinder, EN 1991-1-4 table E.1 (from memory)
# Steps of a walking person per second, and the multiples that still carry force (common practice).
FOOTFALL = (1.6, 2.4) * u.Hz
FOOTFALL_HARMONICS = 4
# A floor that swings faster than this is above all multiples of footfall (common practice, no source).
CALM_FLOOR = FOOTFALL[1] * FOOTFALL_HARMONICS
# Beyond this Euler and Bernoulli's beam is told to be too stiff.
LARGEST_SHEAR_SHARE = 0.05


@dataclass(frozen=True, kw_only=True)
class LoadCase:
    """One thing that pushes, and what the top does: a star moves by the angle, the sideways shift moves none."""

    name: Annotated[str, "what pushes"]
    force: Annotated[u.Quantity[u.N], "at the top"]
    bending: Annotated[Bending, Spread()]  # the softer way
    tilted_north: Annotated[PolarShift, "the polar axis if it tilts the column to the north", Key("if_tilted_north")]
    tilted_east: Annotated[PolarShift, "if to the east", Key("if_tilted_east")]


@dataclass(frozen=True, kw_only=True)
class ColumnResponse:
    """How the column swings and bends."""

    vibration: Annotated[Vibration, Spread()]  # the softer way
    motion: Annotated[PierMotion, Spread()]
    mount_assumed: Annotated[bool, "whether the mount's frequency is a usual one, not measured",
                             Key("mount_frequency_assumed")]
    rigid_foot: Vibration  # the same column on a rigid foot
    softer_way: Annotated[str, "east-west or north-south"]
    footing: Annotated[FootingStiffness, Spread()]
    top_stiffness: Annotated[u.Quantity[u.N / u.um], "sideways, at the column's top"]
    column_share: Annotated[float, "of the tilt under a push at the top, what the column itself bends",
                            Key("column_share_of_tilt")]
    vortex_speed: Annotated[u.Quantity[u.m / u.s] | None, "wind that sheds eddies at the first frequency"]
    cases: Annotated[tuple[LoadCase, ...], "what pushes, and what it does"]
    reasons: tuple[str, ...]
    frequency_on_rigid_foot = told(u.Hz, "of the same column", lambda response: response.rigid_foot.frequency[0])


def column_response(column: Column, footing: Footing, loads: TopLoads, *, latitude: u.Quantity[u.deg]
                    ) -> ColumnResponse:
    """Return frequencies, stiffness and what wind, hand, weight and person do, in the softer of the two directions.

    `latitude`: of the site, for the polar axis.
    Euler and Bernoulli's beam. `motion` counts a mount that gives: the one in `loads`, or a usual one. No
    case is told of a column that falls under its own load.
    """
    stiffness = footing_stiffness(footing, column.width)
    foot = stiffness.softer
    motion, falling = pier_motion(column, footing, loads), falling_share(column, loads, foot)
    push, alone = (bend(**beam_of(column, spring), force=1 * u.N) for spring in (foot, None))
    vortex = (motion.own_frequency * column.width / STROUHAL).to(u.m / u.s) if column.shape == "round" else None
    return ColumnResponse(
        vibration=swinging(column, loads, foot), motion=motion, mount_assumed=loads.mount_frequency is None,
        rigid_foot=swinging(column, loads, None), softer_way=stiffness.softer_way, footing=stiffness,
        top_stiffness=(1 * u.N / push.deflection).to(u.N / u.um), column_share=float(alone.angle / push.angle),
        vortex_speed=vortex, cases=_cases(column, footing, loads, foot, latitude) if falling < 1 else (),
        reasons=_reasons(column, footing, loads, stiffness, vortex) if falling < 1 else ())


def _cases(column: Column, footing: Footing, loads: TopLoads, foot: u.Quantity | None, latitude: u.Quantity
           ) -> tuple[LoadCase, ...]:
    beam, falling = beam_of(column, foot), falling_share(column, loads, foot)
    wind = wind_force(loads.wind_area, loads.wind_speed) + (
        0 * u.N if loads.sheltered else wind_force(column.width * column.height, loads.wind_speed))
    hand = bend(**beam, force=loads.push, force_height=column.height + loads.push_height)
    person = person_tilt(footing, mass=loads.person, distance=loads.person_distance)
    settled = settlement_tilt(footing)
    place = "where the floor tilts most" if footing.joists else f"{loads.person_distance.value:g} m away"
    cases = (
        _case(f"gust of {loads.wind_speed.value:g} m/s", wind, wind_bending(column, loads, foot, falling), latitude),
        _case(f"hand pushing {loads.push.value:g} N", loads.push, grown(hand, falling), latitude),
        _case(f"{loads.unbalanced.to_value(u.kg * u.m):g} kg m out of balance", 0 * u.N,
              grown(bend(**beam, moment=off_balance(loads)), falling), latitude),
        _case(f"{loads.sunny_side.value:g} K between sunny and shady side", 0 * u.N,
              warm_bending(column, loads.sunny_side), latitude),
        _case(f"{loads.person.value:g} kg person {place}", 0 * u.N, _leaning(column, person), latitude),
        _case(f"one edge of the footing {footing.settlement.value:g} mm lower", 0 * u.N,
              _leaning(column, settled), latitude),
    )
    return tuple(case for case in cases if case.bending.angle != 0)


def _leaning(column: Column, tilt: u.Quantity) -> Bending:
    """Return what the top does when the foot tilts and nothing bends."""
    return Bending(deflection=(column.height * tilt.to_value(u.rad)).to(u.um), angle=tilt)


def _case(name: str, force: u.Quantity, bending: Bending, latitude: u.Quantity) -> LoadCase:
    none = 0 * u.arcsec
    return LoadCase(name=name, force=force, bending=bending,
                    tilted_north=polar_shift(tilt_east=none, tilt_north=bending.angle, latitude=latitude),
                    tilted_east=polar_shift(tilt_east=bending.angle, tilt_north=none, latitude=latitude))


def _reasons(column: Column, footing: Footing, loads: TopLoads, stiffness: FootingStiffness, vortex: u.Quantity | None
             ) -> tuple[str, ...]:
    words = [text for text in (warm_words(column, loads.sunny_side), isolation_words(column, footing, loads)) if text]
    if footing.kind == "suspended floor" and stiffness.floor_frequency is not None:
        floor = stiffness.floor_frequency
        near = floor < CALM_FLOOR
        words.append(f"The floor itself swings at {floor:.0f}" + (
            ": footsteps shake it. Nobody should walk while a frame is exposed." if near else "."))
    if column.shear_share > LARGEST_SHEAR_SHARE:
        more = f"{100 * column.shear_share:.0f} %"
        words.append(f"The column is stubby: shear, left out here, adds {more} to its bending.")
    if vortex is not None and vortex < 15 * u.m / u.s:
        words.append(f"A steady wind of {vortex.to_value(u.m / u.s):.0f} m/s on the bare column sheds eddies at its "
                     "own frequency.")
    if footing.kind == "tripod":
        words.append("Legs and joints of the tripod are taken as rigid: a real one swings more slowly. Tighten them, "
                     "and keep the legs short.")
    if column.material == "concrete":
        words.append("Reinforce a concrete column all the same: four bars of 12 mm and ties are the least that codes "
                     "ask of columns (EN 1992-1-1 clause 9.5, from memory).")
    return tuple(words)
