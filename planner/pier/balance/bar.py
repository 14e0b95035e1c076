"""The counterweights: where they go on the bar, which to exchange when its room ends, and a bias for the gear."""

import itertools
import math
from collections.abc import Iterator
from dataclasses import replace

from astropy import units as u

from planner.constants import STANDARD_GRAVITY
from planner.pier.balance.model import BY_FEEL, FINEST_MOVE, Assembly, Bar, Counterweight, Move, millimetres
from planner.pier.balance.torque import Balance, balance

Weights = tuple[Counterweight, ...]
SHORTEST = 1.0  # mm: nearer to the axis a weight does nothing
STEPS = (0.5, 0.1, 0.01)  # kg, in which weights are made or trimmed (common practice, no source)
HEAVIEST = 100.0  # kg: no heavier one is told to be hung (common practice, no source)
NEW_PLACE = 0.75  # of the bar: where a new weight is meant to hang, with room both ways (common practice, no source)
# Weights are set this finely for a bias, as a share of it (common practice, no source).
CLOSE = 0.2
STEEPEST = 0.05  # cosine of the latitude: nearer to the pole nothing pulls on the polar axis


def moment_of(weights: Weights) -> float:
    """Return mass times distance from the right-ascension axis [kg mm]."""
    return float(sum(weight.mass.value * weight.position.value for weight in weights))


def fitted(assembly: Assembly, wanted: float, tolerance: float) -> Weights | None:
    """Return the weights whose moment is the wanted one: moved, else some taken off, one exchanged or new.

    `wanted`: moment of all weights [kg mm]. `tolerance`: what may be left [kg mm].
    On the bar, in their order, none beyond it or overlapping; None if no weight at all does it.
    """
    for weights in _sets(assembly, wanted):
        placed = min((_placed(assembly.bar, weights, wanted, step.value) for step in (FINEST_MOVE, BY_FEEL)),
                     key=lambda those: max(tolerance, abs(wanted - moment_of(those))))
        if abs(wanted - moment_of(placed)) <= tolerance:
            return placed
    return None


def bar_moves(before: Weights, after: Weights) -> list[Move]:
    """Return what changes on the bar."""
    kept = {weight.name for weight in after}
    there = {weight.name: weight for weight in before}
    gone = [Move(action="take off", name=weight.name, text=f"Right ascension: take off {_called(weight)}.")
            for weight in before if weight.name not in kept]
    return gone + [_move(there.get(weight.name), weight) for weight in after if weight != there.get(weight.name)]


def _move(old: Counterweight | None, new: Counterweight) -> Move:
    place = f"{millimetres(new.position.value)} from the axis"
    if old is None:
        return Move(action="hang", name=new.name, becomes=new, text=(
            f"Right ascension: hang a weight of {new.mass.value:g} kg on the bar, its middle {place}."))
    if old.mass != new.mass:
        return Move(action="replace", name=new.name, becomes=new, shift=new.position - old.position, text=(
            f"Right ascension: take {new.mass.value:g} kg, no thicker, instead of {_called(old)}, its middle {place}."))
    shift = (new.position - old.position).value
    return Move(action="move", name=new.name, becomes=new, shift=shift * u.mm, text=(
        f"Right ascension: move {_called(old)} {millimetres(shift)} {'out' if shift > 0 else 'in'}, to {place}."))


def _called(weight: Counterweight) -> str:
    """Return how the sentence calls a weight: ``the 5 kg weight (upper)``."""
    return f"the {weight.mass.value:g} kg weight ({weight.name})"


def _sets(assembly: Assembly, wanted: float) -> Iterator[Weights]:
    """Yield sets of weights to try: those there are, then with some off, one in another mass, one alone, none."""
    bar, now = assembly.bar, assembly.counterweights
    yield now
    inner, outer = _packed(bar, now, outwards=False), _packed(bar, now, outwards=True)
    heavy = moment_of(inner) > wanted
    if heavy:
        for fewer in range(len(now) - 1, 0, -1):
            yield from sorted(itertools.combinations(now, fewer), key=lambda those: -moment_of(those))
    limits = inner if heavy else outer
    missing = wanted - moment_of(limits)
    levers = [max(weight.position.value, SHORTEST) for weight in limits]
    for step in STEPS:
        for index in sorted(range(len(now)), key=lambda i: -levers[i]):
            mass = _in_steps(now[index].mass.value + missing / levers[index], step, up=not heavy)
            if 0 < mass <= HEAVIEST:
                yield (*now[:index], replace(now[index], mass=mass * u.kg), *now[index + 1:])
    place = bar.start.value + NEW_PLACE * (bar.end - bar.start).value
    for step in STEPS:
        mass = _in_steps(wanted / place, step, up=True)
        if 0 < mass <= HEAVIEST:
            yield (Counterweight(name="new weight", mass=mass * u.kg, position=place * u.mm),)
    yield ()


def _in_steps(mass: float, step: float, *, up: bool) -> float:
    steps = mass / step
    return round((math.ceil(steps - 1e-9) if up else math.floor(steps + 1e-9)) * step, 6)


def _placed(bar: Bar, weights: Weights, wanted: float, step: float) -> Weights:
    """Return the weights moved as little as will do: one alone, else the leading ones together, else all."""
    missing = wanted - moment_of(weights)
    order = sorted(range(len(weights)), key=lambda i: (weights[i].position.value, i), reverse=bool(missing > 0))
    ways = sorted(([i] for i in order), key=lambda way: abs(missing) / weights[way[0]].mass.value)
    ways += [order[:count] for count in range(2, len(order) + 1)]
    for way in ways:
        shift = missing / sum(weights[i].mass.value for i in way)
        found = _shifted(bar, weights, {i: weights[i].position.value + shift for i in way}, wanted, step)
        if found is not None:
            return found
    ends = _packed(bar, weights, outwards=bool(missing > 0))
    share = missing / ((moment_of(ends) - moment_of(weights)) or math.inf)
    places = {i: weights[i].position.value + min(share, 1.0) * (ends[i].position - weights[i].position).value
              for i in order}
    return _shifted(bar, weights, places, wanted, step) or ends


def _shifted(bar: Bar, weights: Weights, places: dict[int, float], wanted: float, step: float) -> Weights | None:
    """Return the weights at these places in whole steps, the lightest making up for the rest; None without room."""
    placed = list(weights)
    for index, place in places.items():
        low, high = _room(bar, placed, index)
        if not low - 1e-6 <= place <= high + 1e-6:
            return None
        placed[index] = replace(weights[index], position=_whole(place, low, high, step) * u.mm)
    if places:
        last = min(places, key=lambda i: weights[i].mass.value)
        low, high = _room(bar, placed, last)
        place = placed[last].position.value + (wanted - moment_of(tuple(placed))) / weights[last].mass.value
        placed[last] = replace(weights[last], position=_whole(place, low, high, step) * u.mm)
    return tuple(placed)


def _whole(place: float, low: float, high: float, step: float) -> float:
    """Return the nearest whole step within a room, or the nearest place if the room holds none."""
    first, last = math.ceil(low / step - 1e-6) * step, math.floor(high / step + 1e-6) * step
    if first > last:
        return min(max(place, low), high)
    return round(min(max(round(place / step) * step, first), last), 6)


def _room(bar: Bar, weights: list[Counterweight], index: int) -> tuple[float, float]:
    """Return the free stretch of the bar for the middle of a weight [mm], its neighbours where they are."""
    here, half = (weights[index].position.value, index), weights[index].thickness.value / 2
    low, high = bar.start.value + half, bar.end.value - half
    for other, weight in enumerate(weights):
        gap = half + weight.thickness.value / 2
        if other != index and (weight.position.value, other) < here:
            low = max(low, weight.position.value + gap)
        elif other != index:
            high = min(high, weight.position.value - gap)
    return low, high


def _packed(bar: Bar, weights: Weights, *, outwards: bool) -> Weights:
    """Return the weights as far out, or in, as they go, in their order."""
    placed = list(weights)
    for index in sorted(range(len(weights)), key=lambda i: (weights[i].position.value, i), reverse=outwards):
        low, high = _room(bar, placed, index)
        placed[index] = replace(placed[index], position=(high if outwards else low) * u.mm)
    return tuple(placed)


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
