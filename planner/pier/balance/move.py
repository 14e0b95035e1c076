"""One move of the advice: what to shift, add, exchange or take off."""

from dataclasses import dataclass

from astropy import units as u

from planner.pier.balance.model import Counterweight, TubePart
from planner.signs import minus

# Nobody sets a weight closer than this by hand: moves are told and made in whole ones (common practice, no source).
FINEST_MOVE = 1 * u.mm
# Where friction holds less than that leaves, tenths (common practice, no source).
BY_FEEL = 0.1 * u.mm


@dataclass(frozen=True, kw_only=True)
class Move:
    """One thing to do: outwards on the bar, or towards the sky in the saddle, positive."""

    action: str  # slide, add, move, replace, take off, hang
    name: str
    text: str
    shift: u.Quantity[u.mm] = 0 * u.mm
    on: str | None = None  # the part that carries an added weight
    becomes: TubePart | Counterweight | None = None  # as it shall be; None for the tube, and for what is taken off

    @property
    def position(self) -> u.Quantity[u.mm]:
        """After the move, from the right-ascension axis; of the tube its shift from where it sits now."""
        return self.becomes.position if isinstance(self.becomes, Counterweight) else self.shift


def millimetres(length: float) -> str:
    """Return a length [mm] in words, with a tenth where it has one."""
    return f"{round(abs(length), 1):g} mm"


def signed(angle: float) -> str:
    """Return whole degrees with their sign: ``−35°``."""
    return minus(f"{angle:+.0f}°")
