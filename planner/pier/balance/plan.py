"""What to do about an imbalance, as moves and in plain words: *move the 5 kg weight 42 mm out*."""

from dataclasses import dataclass, replace
from typing import Annotated, ClassVar

from astropy import units as u

from planner.constants import STANDARD_GRAVITY
from planner.exposure.reasons import percent
from planner.fields import Key, told
from planner.pier.balance.bar import bar_moves, bias_words, fitted, moment_of
from planner.pier.balance.clearance import Clearance, clearance_words, clearances
from planner.pier.balance.model import Assembly, Move, signed
from planner.pier.balance.torque import HELD_SHIFT, Balance, balance
from planner.pier.balance.tube import end_weight, is_heavy, made, side_weight, slide
from planner.pier.balance.turning import Turning, turning
from planner.pier.column.footing import Footing
from planner.pier.column.model import Column
from planner.pier.objection import CHECK, GOOD, UNSAFE, Objection, State

# Shares of what friction holds that the moves may leave sideways, along the tube and about the right-ascension axis:
# together, square to each other, less than all of it.
SIDEWAYS, ALONG, AROUND = 0.4, 0.55, 0.5
NO_SIDE = ("Sideways: no part reaches to the light side: turn a part around the tube, or give the widths of the parts "
           "to hear of a weight.")
NO_END = ("Declination: no part sits on the light side, and sliding does not do it: mount the tube farther over, or "
          "give the lengths of the parts to hear of a weight.")
NO_BAR = ("Right ascension: even without weights the side of the bar is the heavier one: take a lighter bar, or none, "
          "or mount the tube farther out.")
PASSING = "clearance"
NO_WEIGHT = "Right ascension: no weight that is made balances it on this bar: take a longer bar, or carry less."
BY_FEEL_ONLY = "What is left is finer than a hand measures: trim by feel with the clutch open."


@dataclass(frozen=True, kw_only=True)
class BalancePlan:
    """The balance as it is, the moves that mend it, and the balance after them."""

    good: ClassVar[str] = "friction holds both axes wherever the tube points."
    verdict: Annotated[State, "of the head as it is"]
    objections: Annotated[tuple[Objection, ...], "what speaks against it"]
    moves: Annotated[tuple[Move, ...], "what to do, in order"]
    cannot: tuple[str, ...]  # what no move mends
    before: Annotated[Balance, "the balance as it is"]
    after: Annotated[Balance, "the balance after the moves"]
    moved: Assembly  # with all moves made
    suggestions: Annotated[tuple[str, ...], "the moves in words"]
    turning: Annotated[Turning | None, "after the moves, as the camera turns; null where nothing turns",
                       Key("camera_turned")]
    clearance: Annotated[tuple[Clearance, ...], "after the moves, on either side of the pier"]
    notes: Annotated[tuple[str, ...], "turning, bias and clearance in words"]
    assumptions: Annotated[tuple[str, ...], "that were made"]
    can = told(bool, "whether moves leave nothing wrong", lambda plan: not plan.cannot, key="can_be_balanced")

    @property
    def lines(self) -> tuple[str, ...]:
        """All of it in words."""
        head = (f"Good: {self.good}",) if self.verdict == GOOD else ()
        return (*head, *(f"{one.part.capitalize()}: {one.finding}" for one in self.objections), *self.suggestions,
                *self.notes)


def plan_balance(assembly: Assembly, *, latitude: u.Quantity[u.deg] = 0 * u.deg, column: Column | None = None,
                 footing: Footing | None = None) -> BalancePlan:
    """Return the moves that balance both axes in every direction of the tube, the declination axis first.

    `latitude`: of the site, for the torque about the polar axis. `column` and `footing`: what carries the mount, for
    the clearance at the flip.
    No move while friction holds both axes. Else moves that a hand can make: whole millimetres (tenths where
    friction holds little), a weight on the tube only where a part is, none on the bar beyond its ends or over another;
    where the room ends a heavier or lighter one. What is added counts in the payload and on both axes.
    """
    before = balance(assembly, latitude=latitude)
    moved, moves = _balanced(assembly, before, latitude)
    after = balance(moved, latitude=latitude)
    cannot = () if after.held else _cannot(after)
    room = () if column is None else clearances(moved, column, footing or Footing(), latitude=latitude)
    turn = turning(moved, latitude=latitude)
    objections = (*_collisions(room), *_torque_objections(before, moves, cannot),
                  *_payload_objections(assembly, before, after))
    words = (*(move.text for move in moves), *cannot) or ("Both axes are in balance: leave tube and weights.",)
    return BalancePlan(
        verdict=_verdict(objections, assembly, after), objections=objections, moves=tuple(moves), cannot=cannot,
        before=before, after=after, moved=moved, suggestions=(*words, *_payload_words(assembly, after)), turning=turn,
        clearance=room, assumptions=_assumptions(assembly, before), notes=(
            *(() if turn is None else (turn.text,)), *bias_words(moved, after, latitude),
            *(() if column is None else clearance_words(room, assembly, footing or Footing()))))


def _verdict(objections: tuple[Objection, ...], assembly: Assembly, after: Balance) -> State:
    """Return the worst of what is found: something breaks that hits the pier, or hangs on too small a mount."""
    overloaded = assembly.payload is not None and after.tube_mass > assembly.payload
    hits = any(one.part == PASSING for one in objections)
    return UNSAFE if overloaded or hits else CHECK if objections else GOOD


def _collisions(found: tuple[Clearance, ...]) -> list[Objection]:
    remedy = ("Raise the mount on a narrower piece, or set the tube farther out or forward, and keep the mount away "
              "from there.")
    return [Objection(part=PASSING, remedy=remedy, finding=(
        f"On the meridian, telescope {one.pier_side} of the pier, the {one.part} hits the column or a leg at "
        f"declination {signed(one.declination.value)}.")) for one in found if one.at_meridian == 0]


def _balanced(assembly: Assembly, before: Balance, latitude: u.Quantity[u.deg]) -> tuple[Assembly, list[Move]]:
    """Return the head in balance and the moves to there, with a weight at the side only where nothing else will do."""
    held = _held_moment(before)
    moved, moves = assembly, list[Move]()
    for aside in (None, side_weight(assembly, SIDEWAYS * held)):
        if balance(moved, latitude=latitude).held:
            return moved, moves
        start, first = (assembly, []) if aside is None else (made(assembly, aside), [aside])
        slid, along = _along(start, ALONG * held)
        moved, around = _around(slid, AROUND * held)
        moves = [*first, *along, *around]
    return moved, moves


def _held_moment(it: Balance) -> float:
    """Return what friction holds on a level axis [kg mm]."""
    return float((it.friction / STANDARD_GRAVITY).to_value(u.kg * u.mm))


def _cannot(after: Balance) -> tuple[str, ...]:
    """Tell what no move mends of what is left."""
    held = _held_moment(after)
    left = ((after.across_moment, SIDEWAYS, NO_SIDE), (after.declination_moment, ALONG, NO_END),
            (after.right_ascension_moment, AROUND, NO_WEIGHT if after.right_ascension_moment > 0 else NO_BAR))
    return tuple(words for moment, share, words in left if abs(moment.value) > share * held) or (BY_FEEL_ONLY,)


def _along(assembly: Assembly, tolerance: float) -> tuple[Assembly, list[Move]]:
    """Slide what slides; where the saddle ends, add a weight where a part is, or take a longer dovetail."""
    inside = slide(assembly, tolerance)
    near = assembly if inside is None else made(assembly, inside)
    weight = end_weight(near, tolerance)
    if weight is None or is_heavy(near, weight):
        longer = slide(assembly, tolerance, beyond=True)
        if longer is not None:
            return made(assembly, longer), [longer]
    moves = [move for move in (inside, weight) if move is not None]
    return near if weight is None else made(near, weight), moves


def _around(assembly: Assembly, tolerance: float) -> tuple[Assembly, list[Move]]:
    """Move weights along the bar, or exchange one, until tube and weights balance."""
    heavy = balance(assembly).right_ascension_moment.value
    now = assembly.counterweights
    weights = now if abs(heavy) <= tolerance else fitted(assembly, moment_of(now) + heavy, tolerance)
    return (assembly, []) if weights is None else (replace(assembly, counterweights=weights), bar_moves(now, weights))


def _torque_objections(before: Balance, moves: list[Move], cannot: tuple[str, ...]) -> list[Objection]:
    """Return what the axes' friction does not hold."""
    axes = (("declination", before.declination_torque, before.declination_allowed),
            ("right ascension", before.right_ascension_torque, before.right_ascension_allowed))
    remedy = " ".join([*(move.text for move in moves), *cannot])
    return [Objection(part=part, remedy=remedy, finding=(
        f"Up to {torque.value:.2f} N m are left as the tube turns; friction holds {before.friction.value:.2f} N m."))
        for part, torque, allowed in axes if torque > allowed]


def _payload_objections(assembly: Assembly, before: Balance, after: Balance) -> list[Objection]:
    if assembly.payload is None or after.payload_share is None or after.payload_within_limit:
        return []
    added = after.tube_mass.value - before.tube_mass.value
    weights = f", {added:.2f} kg of added weights included" if added > 0 else ""
    return [Objection(part="payload", remedy=_payload_words(assembly, after)[0], finding=(
        f"The tube weighs {after.tube_mass.value:.1f} kg{weights}, {percent(after.payload_share)} of the rated "
        f"{assembly.payload:g}."))]


def _payload_words(assembly: Assembly, after: Balance) -> list[str]:
    if assembly.payload is None or after.payload_share is None:
        return []
    limit = percent(assembly.payload_limit)
    if after.payload_within_limit:
        return [f"The tube weighs {after.tube_mass.value:.1f} kg, {percent(after.payload_share)} of the rated "
                f"{assembly.payload:g}; your limit is {limit}."]
    over = after.tube_mass.value - assembly.payload_limit * assembly.payload.value
    return [f"The tube weighs {over:.1f} kg more than your limit of {limit}: carry less, or take a mount that bears "
            "more; no move mends it."]


def _assumptions(assembly: Assembly, before: Balance) -> tuple[str, ...]:
    """Say what the verdict takes for granted because the file does not give it."""
    if assembly.friction is not None:
        return ()
    return (f"Friction holds {before.friction.value:.2f} N m on each axis, {HELD_SHIFT:g} of all that moves (assumed): "
            "measure it with a spring scale and give friction.",)
