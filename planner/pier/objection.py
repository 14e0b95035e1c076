"""What speaks against a part of the pier, and what to do about it."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Annotated, Final, Literal

from astropy import units as u

# Verdicts: nothing speaks against it; it will not do its work, or something that decides is not given; it can burn,
# break or fall.
State = Literal["good", "check", "unsafe"]
GOOD: Final = "good"
CHECK: Final = "check"
UNSAFE: Final = "unsafe"


def worst(found: Iterable[State]) -> State:
    """Return the worst of some verdicts, good if there is none."""
    return max(found, key=(GOOD, CHECK, UNSAFE).index, default=GOOD)


@dataclass(frozen=True, kw_only=True)
class Objection:
    """One thing that speaks against the pier."""

    part: Annotated[str, "of the pier that it concerns"]
    finding: Annotated[str, "what speaks against it"]
    remedy: Annotated[str, "what to do"]


def two_digits(value: u.Quantity) -> u.Quantity:
    """Return a figure with as many digits as loads and soil carry, in its unit."""
    return u.Quantity(float(f"{value.value:.2g}"), value.unit)
