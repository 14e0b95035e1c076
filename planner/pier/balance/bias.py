"""A weight left on purpose, so that a gear rests on one flank: how far from balance, on either side of the pier."""

import math
from dataclasses import replace

from astropy import units as u

from planner.constants import STANDARD_GRAVITY
from planner.pier.balance.bar import bar_moves, fitted, moment_of
from planner.pier.balance.model import Assembly
from planner.pier.balance.move import millimetres
from planner.pier.balance.torque import Balance, balance

# Weights are set this finely for a bias, as a share of it (common practice, no source).
CLOSE = 0.2
STEEPEST = 0.05  # cosine of the latitude: nearer to the pole nothing pulls on the polar axis


def biased(assembly: Assembly, *, latitude: u.Quantity[u.deg], telescope_east: bool) -> Assembly | None:
    """Return a head with its weights moved so that the east side is heavier by the bias.

    `assembly`: in balance; its bias is the torque with the bar level. `latitude`: of the site. `telescope_east`: east
    of the pier the tube is the east side, west of it the weights are.
    None if moving alone does not do it.
    """
    level = float(abs(math.cos(latitude.to_value(u.rad))))
    if level < STEEPEST or not assembly.counterweights:
        return None
    moment = (assembly.bias / STANDARD_GRAVITY).to_value(u.kg * u.mm) / level * (1 if telescope_east else -1)
    now = assembly.counterweights
    wanted = moment_of(now) + balance(assembly).right_ascension_moment.value - moment
    weights = fitted(assembly, wanted, CLOSE * abs(moment))
    if weights is None or any(move.action != "move" for move in bar_moves(now, weights)):
        return None
    return replace(assembly, counterweights=weights)


def bias_words(assembly: Assembly, after: Balance, latitude: u.Quantity[u.deg]) -> tuple[str, ...]:
    """Return how far the weights and the tube go, from where they are, for the bias that is wanted."""
    words = [text for bias, text in ((assembly.bias, _right_ascension_words(assembly, latitude)),
                                     (assembly.declination_bias, _declination_words(assembly, after))) if bias > 0]
    if words and max(assembly.bias, assembly.declination_bias) <= after.friction:
        words.append(f"Bias: friction holds {after.friction.value:.2f} N m by itself: with less the gear does not rest "
                     "on one flank.")
    return tuple(words)


def _declination_words(assembly: Assembly, after: Balance) -> str:
    sliding = sum(part.mass.value for part in assembly.parts if part.slides)
    wanted = -(assembly.declination_bias / STANDARD_GRAVITY).to_value(u.kg * u.mm)
    shift = (wanted - after.declination_moment.value) / sliding if sliding else math.inf
    if abs(shift) > assembly.saddle_travel.value:
        return f"Bias: the saddle has no room to leave {assembly.declination_bias:g} on the declination axis."
    return (f"Bias: for {assembly.declination_bias:g} in declination with the back end heavy slide the tube "
            f"{abs(shift):.0f} mm {'towards the sky' if shift > 0 else 'back'}; it stays so on both sides of the pier.")


def _right_ascension_words(assembly: Assembly, latitude: u.Quantity[u.deg]) -> str:
    sides = []
    for east, name in ((True, "telescope east of the pier"), (False, "telescope west of it")):
        there = biased(assembly, latitude=latitude, telescope_east=east)
        if there is None:
            return f"Bias: the bar has no room to leave {assembly.bias:g} on the right-ascension axis."
        shifts = [f"{move.name} {millimetres(move.shift.value)} {'out' if move.shift > 0 else 'in'}"
                  for move in bar_moves(assembly.counterweights, there.counterweights)]
        sides.append(f"{name}: {', '.join(shifts) or 'as it is'}")
    return (f"Bias: for {assembly.bias:g} with the east side heavy, from there, {'; '.join(sides)}. Change it at each "
            "flip; it fades as the bar turns upright, and a tube so left swings when its clutch is opened.")
