"""A polar alignment in words."""

from astropy import units as u

from planner.measure.polar.alignment import PolarAlignment
from planner.measure.polar.remedy import ScrewTurns, instructions

# Common practice, no source.
TURN_CAUTION = ("Support the load while the axis is turned, and never undo a bolt fully; hold tube and counterweight "
                "before a clutch is released.")
SENSES = (("raises", "lowers"), ("swings it east", "swings it west"))  # in altitude, in azimuth


def axis_headline(found: PolarAlignment) -> str:
    """Return what to do with the axis in one line."""
    up, across = found.altitude_error.to_value(u.arcmin), found.azimuth_error.to_value(u.arcmin)
    turns = [(up, found.altitude_uncertainty, f"{'lower' if up > 0 else 'raise'} it by {abs(up):.1f}′"),
             (across, found.azimuth_uncertainty,
              f"swing it {abs(across):.1f}′ to the {'west' if across > 0 else 'east'}")]
    needed = [words for size, error, words in turns if abs(size) >= error.to_value(u.arcmin)]
    return f"Polar axis: {', '.join(needed) or 'leave it, it is right within the errors'}"


def axis_lines(found: PolarAlignment, turns: ScrewTurns) -> list[str]:
    """Return what to do with the axis, by turns of the screws where they are known."""
    lines = [f"The polar axis is {text}.{_turns(by, senses)}" for text, by, senses in zip(
        _instructions(found), (turns.altitude_turns, turns.azimuth_turns), SENSES, strict=True)]
    lines.append(f"Axis and true pole are {found.offset.to_value(u.arcmin):.1f}′ apart; refraction raises the apparent "
                 f"pole by {found.refracted_pole.to_value(u.arcmin):.1f}′, so an axis set by eye on a star field ends "
                 "there.")
    if found.scatter is not None:
        lines.append(f"The positions lie on their circle within {found.scatter.to_value(u.arcsec):.1f}″.")
    return [*lines, *found.notes, TURN_CAUTION]


def _instructions(found: PolarAlignment) -> tuple[str, str]:
    return instructions(found.altitude_error, found.altitude_uncertainty, found.azimuth_error,
                        found.azimuth_uncertainty)


def _turns(turns: float | None, senses: tuple[str, str]) -> str:
    return "" if turns is None else f" {abs(turns):.2f} turns of the screw, in the sense that {senses[int(turns < 0)]}."
