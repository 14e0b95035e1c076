"""Signs in the numbers of texts that people read: minus, and the blank between thousands."""

import re

# A hyphen before a digit, not behind a letter, a digit or a bracket: of a negative number, not of a name or a date.
_MINUS = re.compile(r"(?<![\w.)-])-(?=[\d.])")


def minus(text: str) -> str:
    """Return a text with the true minus sign before its negative numbers; dates and names keep their hyphens."""
    return _MINUS.sub("−", text)


def thousands(text: str) -> str:
    """Return a number with a thin blank between its thousands, where Python writes a comma: that is a decimal sign."""
    return text.replace(",", "\u202f")
