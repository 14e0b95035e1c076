"""The minus sign of numbers in texts that people read."""

import re

# A hyphen before a digit, not behind a letter, a digit or a bracket: of a negative number, not of a name or a date.
_MINUS = re.compile(r"(?<![\w.)-])-(?=[\d.])")


def minus(text: str) -> str:
    """Return a text with the true minus sign before its negative numbers; dates and names keep their hyphens."""
    return _MINUS.sub("−", text)
