"""What speaks against a part of the pier, and what to do about it."""

from dataclasses import dataclass
from typing import Final, Literal

# Verdicts: nothing speaks against it; it will not do its work, or something that decides is not given; it can burn,
# break or fall.
State = Literal["good", "check", "unsafe"]
GOOD: Final = "good"
CHECK: Final = "check"
UNSAFE: Final = "unsafe"


@dataclass(frozen=True, kw_only=True)
class Objection:
    """One thing that speaks against the pier."""

    part: str
    finding: str
    remedy: str
