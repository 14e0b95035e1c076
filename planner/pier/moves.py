"""What to do about an imbalance, as moves and in plain words: *move the 5 kg weight 42 mm out*."""

from dataclasses import dataclass, replace

from astropy import units as u

from planner.pier.balance import (
    Assembly,
    Balance,
    Counterweight,
    balance,
    imbalance_torque,
)

# Nobody sets a weight closer than this by hand; a smaller move is not suggested (common practice, no source).
FINEST_MOVE = 1 * u.mm
# A sideways offset below this is not worth a word (common practice, no source).
SIDEWAYS_TOLERANCE = 3 * u.mm


@dataclass(frozen=True, kw_only=True)
class Move:
    """One thing to shift: outwards on the bar, or towards the sky in the saddle, positive."""

    name: str
    shift: u.Quantity[u.mm]
    position: u.Quantity[u.mm]  # after the move; of the tube: its shift from where it sits now


@dataclass(frozen=True, kw_only=True)
class BalancePlan:
    """The balance as it is, the moves that mend it, and the balance after them."""

    before: Balance
    after: Balance
    moved: Assembly
    moves: tuple[Move, ...]
    suggestions: tuple[str, ...]


def plan_balance(assembly: Assembly, *, latitude: u.Quantity[u.deg] = 0 * u.deg) -> BalancePlan:
    """Return the moves that balance both axes, the declination axis first.

    Parameters
    ----------
    assembly : Assembly
        What rides on the mount, where.
    latitude : Quantity [deg], scalar
        Of the site, for the torque about the polar axis.

    Returns
    -------
    BalancePlan
        One weight is moved if one suffices, the one that moves least; otherwise the fewest together by one shift, those
        in front; otherwise each as far as it goes. A move that the bar or the saddle has no room
        for is made as far as it goes, and a suggestion says what is missing. Sideways imbalance cannot be
        slid away; it is only told.
    """
    before = balance(assembly, latitude=latitude)
    moved, moves, words = _slide_tube(assembly, before)
    words += _across_words(before)
    moved, weight_moves, weight_words = _move_weights(moved)
    after = balance(moved, latitude=latitude)
    return BalancePlan(before=before, after=after, moved=moved, moves=tuple(moves + weight_moves),
                       suggestions=tuple(words + weight_words + _payload_words(assembly, before)))


def _slide_tube(assembly: Assembly, now: Balance) -> tuple[Assembly, list[Move], list[str]]:
    """Shift the sliding parts until the moment along the tube is gone, or the saddle ends."""
    sliding = sum(part.mass.value for part in assembly.parts if part.slides)
    moment = now.declination_moment.value
    if sliding == 0:
        return assembly, [], _end_weight_words(moment, assembly) if abs(moment) > now.tube_mass.value else []
    wanted = -moment / sliding
    if abs(wanted) < FINEST_MOVE.value:
        return assembly, [], [f"Declination is in balance to {FINEST_MOVE:g}: leave the tube where it is."]
    travel = assembly.saddle_travel.value
    shift = max(-travel, min(travel, wanted))
    parts = tuple(replace(part, along=part.along + shift * u.mm) if part.slides else part for part in assembly.parts)
    moved = replace(assembly, parts=parts)
    words = []
    if abs(shift) >= FINEST_MOVE.value:
        words.append(f"Declination: slide the tube {abs(shift):.0f} mm {'towards the sky' if shift > 0 else 'back'} "
                     "in the saddle.")
    if shift != wanted:
        words += _end_weight_words(moment + sliding * shift, moved)
    return moved, [Move(name="tube", shift=shift * u.mm, position=shift * u.mm)], words


def _end_weight_words(moment: float, assembly: Assembly) -> list[str]:
    """Say what weight at the light end of the tube takes away a moment [kg mm]."""
    ends = [part.along.value for part in assembly.parts]
    reach = abs(min(ends)) if moment > 0 else abs(max(ends))
    end = "the back end" if moment > 0 else "the sky end"
    if reach < 50:  # mm: too near to the axis to be of use
        return [f"Declination: {end} is too light by {abs(moment) / 1000:.2f} kg m and the saddle has no more room; "
                "a longer dovetail is needed."]
    return [f"Declination: the saddle has no more room; add {abs(moment) / reach:.2f} kg at {end}, "
            f"{reach:.0f} mm from the axis."]


def _across_words(now: Balance) -> list[str]:
    """Tell of a sideways offset that sliding cannot mend."""
    if abs(now.centre_across) < SIDEWAYS_TOLERANCE:
        return []
    torque = abs(imbalance_torque(now.across_moment)).value
    return [f"Sideways the tube is {abs(now.centre_across.value):.0f} mm off the axis ({torque:.2f} N m): no sliding "
            "mends it; turn a part around the tube, or put a weight opposite to it."]


def _payload_words(assembly: Assembly, now: Balance) -> list[str]:
    if assembly.payload is None or now.payload_share is None:
        return []
    text = f"The tube weighs {now.tube_mass.value:.1f} kg, {now.payload_share:.0%} of the rated {assembly.payload:g}"
    if now.payload_within_limit:
        return [f"{text}; your limit is {assembly.payload_limit:.0%}."]
    over = now.tube_mass.value - assembly.payload_limit * assembly.payload.value
    return [f"{text}: {over:.1f} kg more than your limit of {assembly.payload_limit:.0%}."]


def _move_weights(assembly: Assembly) -> tuple[Assembly, list[Move], list[str]]:
    """Move weights along the bar until the moment about the right-ascension axis is gone, or the bar ends."""
    moment = balance(assembly).right_ascension_moment.value  # tube side heavy: the weights go out
    if not assembly.counterweights:
        return assembly, [], _no_weight_words(moment, assembly)
    positions = _positions(assembly, moment)
    moves, words = [], []
    for weight in assembly.counterweights:
        shift = positions[weight.name] - weight.position.value
        if abs(shift) >= FINEST_MOVE.value:
            moves.append(Move(name=weight.name, shift=shift * u.mm, position=positions[weight.name] * u.mm))
            words.append(f"Right ascension: move {_called(weight)} {abs(shift):.0f} mm {'out' if shift > 0 else 'in'}, "
                         f"to {positions[weight.name]:.0f} mm from the axis.")
    weights = tuple(replace(w, position=positions[w.name] * u.mm) for w in assembly.counterweights)
    moved = replace(assembly, counterweights=weights)
    left = balance(moved).right_ascension_moment.value
    lightest = min(weight.mass.value for weight in weights)
    if abs(left) > FINEST_MOVE.value * lightest:
        words += _missing_weight_words(left, moved)
    elif not moves:
        words = [f"Right ascension is in balance to {FINEST_MOVE:g} of the lightest weight: leave the weights."]
    return moved, moves, words


def _positions(assembly: Assembly, moment: float) -> dict[str, float]:
    """Return the place of each weight [mm] after the moves."""
    places = {weight.name: weight.position.value for weight in assembly.counterweights}
    single = []
    for weight in assembly.counterweights:
        low, high = _room(assembly, weight, places)
        shift = moment / weight.mass.value
        if low <= weight.position.value + shift <= high:
            single.append((abs(shift), weight.name, weight.position.value + shift))
    if single:
        _, name, place = min(single)
        return {**places, name: place}
    outward = bool(moment > 0)
    together = _together(assembly, moment, outward)
    if together:
        return {**places, **together}
    for weight in sorted(assembly.counterweights, key=lambda item: item.position.value, reverse=outward):
        low, high = _room(assembly, weight, places)
        wanted = weight.position.value + moment / weight.mass.value
        places[weight.name] = max(low, min(high, wanted))
        moment -= weight.mass.value * (places[weight.name] - weight.position.value)
    return places


def _together(assembly: Assembly, moment: float, outward: bool) -> dict[str, float]:
    """Return the places of the fewest leading weights that balance by one common shift; empty without the room."""
    ordered = sorted(assembly.counterweights, key=lambda item: item.position.value, reverse=outward)
    leader = ordered[0]
    half = leader.thickness.value / 2
    limit = assembly.bar.end.value - half if outward else assembly.bar.start.value + half
    for count in range(2, len(ordered) + 1):
        shift = moment / sum(weight.mass.value for weight in ordered[:count])
        if abs(shift) <= abs(limit - leader.position.value):
            return {weight.name: weight.position.value + shift for weight in ordered[:count]}
    return {}


def _room(assembly: Assembly, weight: Counterweight, places: dict[str, float]) -> tuple[float, float]:
    """Return the free stretch of the bar for the middle of a weight [mm], its neighbours standing at `places`."""
    half = weight.thickness.value / 2
    low, high = assembly.bar.start.value + half, assembly.bar.end.value - half
    for other in assembly.counterweights:
        gap = half + other.thickness.value / 2
        if other.name != weight.name and places[other.name] < places[weight.name]:
            low = max(low, places[other.name] + gap)
        elif other.name != weight.name:
            high = min(high, places[other.name] - gap)
    return low, high


def _no_weight_words(moment: float, assembly: Assembly) -> list[str]:
    if moment <= 0:
        return ["Right ascension: the tube needs no counterweight beyond the bar."]
    return [f"Right ascension: there is no counterweight; {moment / assembly.bar.end.value:.1f} kg at the end of the "
            "bar would balance it."]


def _missing_weight_words(left: float, assembly: Assembly) -> list[str]:
    """Say what is missing when every weight stands at an end of its room."""
    if left > 0:
        return [f"Right ascension: the bar has no more room; add {left / assembly.bar.end.value:.2f} kg at its end "
                f"({assembly.bar.end.value:.0f} mm), or use a longer bar."]
    lightest = min(assembly.counterweights, key=lambda item: item.mass.value)
    return [f"Right ascension: the weights are too heavy by {-left / 1000:.2f} kg m even close in; take off "
            f"{_called(lightest)} or a heavier one and ask again."]


def _called(weight: Counterweight) -> str:
    """Return how the sentence calls a weight: ``the 5 kg weight (upper)``."""
    return f"the {weight.mass.value:g} kg weight ({weight.name})"
