"""The cells of CSV: read from one line, and written so that text stays text.

A spreadsheet takes a cell that starts with = + - or @ for a formula and obeys it.
"""

import csv
import re
from typing import Any

from planner.errors import InvalidInputError

_FORMULA = re.compile(r"\s*[=+\-@]")
_NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")


def csv_cells(name: str, number: int, line: str, separator: str) -> list[str]:
    """Return the cells of one line; what stands in double quotes is one cell.

    Raises InvalidInputError with the file's name and the line's number if a double quote lacks its partner: read on
    from there, the lines below would be one cell.
    """
    if '"' not in line:
        return line.split(separator)
    try:
        return next(csv.reader([line], delimiter=separator, strict=True))
    except csv.Error:
        raise InvalidInputError(f"{name}, line {number}", line, "may hold double quotes only in pairs, around a cell",
                                "Remove the quote, or close it.") from None


def text_cell(value: Any) -> Any:
    """Return a value of a cell; an apostrophe goes before a text that is no number and would count as a formula."""
    risky = isinstance(value, str) and _FORMULA.match(value) and not _NUMBER.fullmatch(value)
    return f"'{value}" if risky else value


def csv_text(frame: Any) -> str:
    """Return a pandas DataFrame as CSV, its text cells safe."""
    return str(frame.map(text_cell).to_csv(index=False))
