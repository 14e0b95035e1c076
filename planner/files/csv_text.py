"""CSV whose text cells stay text: a spreadsheet takes one that starts with = + - or @ for a formula and obeys it."""

import re
from typing import Any

_FORMULA = re.compile(r"\s*[=+\-@]")
_NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")


def text_cell(value: Any) -> Any:
    """Return a value of a cell; an apostrophe goes before a text that is no number and would count as a formula."""
    risky = isinstance(value, str) and _FORMULA.match(value) and not _NUMBER.fullmatch(value)
    return f"'{value}" if risky else value


def csv_text(frame: Any) -> str:
    """Return a pandas DataFrame as CSV, its text cells safe."""
    return str(frame.map(text_cell).to_csv(index=False))
