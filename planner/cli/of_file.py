"""What is told of a file by a command that reads or writes one; apart from `output`, which loads no numpy."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

from planner.fields import told


@dataclass(frozen=True, kw_only=True)
class OfFile:
    """Which file an answer is about."""

    file: Annotated[Path | str, "that was read or written"]


@dataclass(frozen=True, kw_only=True)
class Checked(OfFile):
    """What was found wrong in a file."""

    problems: Annotated[Sequence[str], "all of them"]
    remarks: Annotated[Sequence[str], "what else is to be known"]
    good = told(bool, "whether there is no problem", lambda checked: not checked.problems)
