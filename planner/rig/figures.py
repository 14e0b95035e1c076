"""What every part of a rig has in common: figures, some of which say how well they are known."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from astropy import units as u

from planner.checks import Model


@dataclass(frozen=True, kw_only=True)
class Figures(Model):
    """A part whose figures may carry a standard error of their own."""

    errors: Mapping[str, u.Quantity | float] = field(default_factory=dict, hash=False)  # by key, in the figure's unit

    def relative_error(self, key: str) -> float | None:
        """Return the standard error of a figure over the figure; None where none was given or the figure is 0."""
        if key not in self.errors or getattr(self, key) == 0:
            return None
        return abs(float(self.errors[key] / getattr(self, key)))
