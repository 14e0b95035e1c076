"""The pier file: balance, wiring and column, read and changed.

In: its text. Out: `pier.PierSetup`, or every fault at once. Read `load`, then `edit`.
"""

from planner.files.pier.load import (
    LISTS,
    SINGLES,
    WHAT,
    check_pier,
    load_pier,
    parse_pier,
    pier_path,
    sway_of,
    user_pier_path,
)

__all__ = [
    "LISTS", "SINGLES", "WHAT", "check_pier", "load_pier", "parse_pier", "pier_path", "sway_of", "user_pier_path",
]
