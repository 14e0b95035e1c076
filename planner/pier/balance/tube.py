"""The tube: what to slide, and where a weight can be put on it."""

import math
from collections.abc import Sequence
from dataclasses import replace

from astropy import units as u

from planner.pier.balance.model import BY_FEEL, FINEST_MOVE, Assembly, Move, TubePart, millimetres

# Nearer to the axis than this an added weight is of no use (common practice, no source).
SHORTEST_LEVER = 50.0  # mm
STEP = 0.01  # kg: what a kitchen scale tells (common practice, no source)
LONGEST_LEVER, FARTHEST = 5000.0, 10000.0  # mm: what a file may say of a place across, and along
MOST = 100.0  # kg: no more is told to be added (common practice, no source)
# A heavier weight, as a share of the tube, is not added where a longer dovetail does it (common practice, no source).
HEAVIEST = 0.2
# Farther than this no tube is slid on a dovetail (common practice, no source).
LONGEST_SLIDE = 300.0  # mm
# Nearer to the middle than this a part counts as in the middle.
MIDDLE = 5.0  # mm


def side_weight(assembly: Assembly, tolerance: float) -> Move | None:
    """Return the weight that takes away what leans sideways, None if little does, or if no part reaches over.

    `tolerance`: what may be left [kg mm].
    """
    moment = _sum(assembly, "across")
    side = -math.copysign(1.0, moment)
    reach, part = _farthest(assembly.parts, side, "across", "width")
    if not _can_hold(moment, tolerance, reach):
        return None
    leaning = max(assembly.parts, key=lambda one: -side * one.mass.value * one.across.value)
    weight = _weight(assembly, "side weight", abs(moment) / reach, part, across=side * reach, along=part.along.value)
    return Move(action="add", name=weight.name, on=part.name, becomes=weight, text=(
        f"Sideways: add {weight.mass.value:.2f} kg on the {part.name}, {reach:.0f} mm beside the tube's middle, "
        f"opposite to the {leaning.name}; or turn that around the tube."))


def slide(assembly: Assembly, tolerance: float, *, beyond: bool = False) -> Move | None:
    """Return the shift in the saddle that balances the tube along itself, as far as the saddle lets, as `side_weight`.

    With `beyond`, on a longer dovetail where the saddle has no room.
    """
    sliding = sum(part.mass.value for part in assembly.parts if part.slides)
    moment, travel = _sum(assembly, "along"), assembly.saddle_travel.value
    if not sliding or abs(moment) <= tolerance:
        return None
    step = FINEST_MOVE.value if FINEST_MOVE.value / 2 * sliding <= tolerance else BY_FEEL.value
    shift = round(round(-moment / sliding / step) * step, 6)
    over = abs(shift) > travel
    if over and not beyond:
        shift = math.copysign(math.floor(travel / step + 1e-6) * step, shift)
    farthest = max(abs(part.along.value + shift) for part in assembly.parts if part.slides)
    if not shift or abs(shift) > max(travel, LONGEST_SLIDE) or farthest > FARTHEST:
        return None
    way = "towards the sky" if shift > 0 else "back"
    text = f"Declination: slide the tube {millimetres(shift)} {way} in the saddle."
    if over and beyond:
        text = (f"Declination: the saddle has room for {travel:.0f} mm: take a dovetail that lets the tube slide "
                f"{millimetres(shift)} {way}, and slide it so far.")
    return Move(action="slide", name="tube", shift=shift * u.mm, text=text)


def end_weight(assembly: Assembly, tolerance: float) -> Move | None:
    """Return the weight at the light end, as `side_weight`, for what the saddle has no room for."""
    moment = _sum(assembly, "along")
    side = -math.copysign(1.0, moment)
    centred = [part for part in assembly.parts if abs(part.across.value) <= max(part.width.value / 2, MIDDLE)]
    reach, part = _farthest(centred or assembly.parts, side, "along", "length")
    if not _can_hold(moment, tolerance, reach):
        return None
    across = 0.0 if part in centred else part.across.value
    weight = _weight(assembly, "end weight", abs(moment) / reach, part, across=across, along=side * reach)
    why = "the saddle has no more room" if any(one.slides for one in assembly.parts) else "nothing slides"
    return Move(action="add", name=weight.name, on=part.name, becomes=weight, text=(
        f"Declination: {why}; add {weight.mass.value:.2f} kg on the {part.name}, {reach:.0f} mm from the declination "
        f"axis, {'towards the sky' if side > 0 else 'behind it'}."))


def is_heavy(assembly: Assembly, weight: Move) -> bool:
    """Whether a longer dovetail is the better way than this weight."""
    tube = sum(part.mass.value for part in assembly.parts)
    return weight.becomes is None or weight.becomes.mass.value > HEAVIEST * tube


def made(assembly: Assembly, move: Move) -> Assembly:
    """Return the assembly with a move on the tube made."""
    if isinstance(move.becomes, TubePart):
        return replace(assembly, parts=(*assembly.parts, move.becomes))
    parts = tuple(replace(part, along=part.along + move.shift) if part.slides else part for part in assembly.parts)
    room = max(assembly.saddle_travel - abs(move.shift), 0 * u.mm)  # either way: what the shorter way has left
    axis = assembly.rotator
    if axis is not None and any(part.turns and part.slides for part in assembly.parts):
        axis = replace(axis, along=axis.along + move.shift)
    return replace(assembly, parts=parts, saddle_travel=room, rotator=axis)


def _farthest(parts: Sequence[TubePart], side: float, place: str, size: str) -> tuple[float, TubePart]:
    """Return how far the parts reach to a side [mm], no farther than a lever may, and the part that does."""
    reach, part = max(((side * getattr(part, place).value + getattr(part, size).value / 2, part) for part in parts),
                      key=lambda one: one[0])
    return min(reach, LONGEST_LEVER), part


def _can_hold(moment: float, tolerance: float, reach: float) -> bool:
    """Whether a moment [kg mm] is worth a weight, and the lever long enough for one that can be lifted."""
    return abs(moment) > tolerance and reach >= SHORTEST_LEVER and abs(moment) / reach <= MOST


def _sum(assembly: Assembly, place: str) -> float:
    return float(sum(part.mass.value * getattr(part, place).value for part in assembly.parts))


def _weight(assembly: Assembly, name: str, mass: float, where: TubePart, *, across: float, along: float) -> TubePart:
    """Return a new weight, sliding with the part that it is put on."""
    taken = {part.name.lower() for part in assembly.parts}
    name = next(one for one in (name, *(f"{name} {n}" for n in range(2, len(taken) + 3))) if one not in taken)
    return TubePart(name=name, mass=max(STEP, round(mass / STEP) * STEP) * u.kg, along=along * u.mm,
                    across=across * u.mm, height=where.height, slides=where.slides)
