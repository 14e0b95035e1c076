"""The tables of a TOML text: where each stands, so that one can come, change or go and no note is lost."""

import contextlib
import datetime
import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from astropy import units as u

from planner.errors import InvalidInputError
from planner.files.quantities import quantity_text
from planner.rig import PeriodicTerm

# [[site]], [site] and the like; a table inside another, such as [[mount.periodic]], belongs to that one.
_HEADER = re.compile(r"[ \t]*\[\[?[ \t]*\"?([A-Za-z_]+)\"?[ \t]*\]\]?[ \t]*(?:#.*)?")
BY_WORDS = "figures by words"  # in the note behind the header of a table that the guided set-up wrote


def tables_of(document: Mapping[str, Any], kind: str) -> list[Any]:
    """Return the tables of a kind as a list: none, one, or several."""
    found = document.get(kind, [])
    return found if isinstance(found, list) else [found]


@dataclass(frozen=True)
class TableLines:
    """The lines of one table: from its header to its last key, with the notes right below that."""

    kind: str
    start: int
    end: int


def blocks(lines: list[str]) -> list[TableLines]:
    """Return the tables in the order of the lines."""
    headers = [(number, found[1]) for number, line in enumerate(lines) if (found := _HEADER.fullmatch(line.strip()))]
    stops = [number for number, _ in headers[1:]] + [len(lines)]
    return [TableLines(kind, start, _end(lines, start, stop)) for (start, kind),
            stop in zip(headers, stops, strict=True)]


def _end(lines: list[str], start: int, stop: int) -> int:
    """Return the line after the table; notes after a blank line lead to the next table and are not its own."""
    last = max(number for number in range(start, stop)
               if lines[number].strip() and not lines[number].lstrip().startswith("#"))
    while last + 1 < stop and lines[last + 1].lstrip().startswith("#"):
        last += 1
    return last + 1


def is_by_words(text: str, kind: str, place: int) -> bool:
    """Say whether figures of one table, the one at `place` among its kind, were picked by words."""
    lines = text.splitlines()
    same = [item for item in blocks(lines) if item.kind == kind]
    return place < len(same) and BY_WORDS in lines[same[place].start]


def noting_measured(text: str, kind: str, place: int) -> str:
    """Return the text with the note of a table whose figures were picked by words no longer said of measured ones."""
    if not is_by_words(text, kind, place):
        return text
    lines = text.splitlines(keepends=True)
    start = [item for item in blocks(text.splitlines()) if item.kind == kind][place].start
    lines[start] = lines[start].replace(f"{BY_WORDS}:", f"{BY_WORDS} where not measured:")
    return "".join(lines)


def with_block(text: str, kind: str, block: str) -> str:
    """Return the text with a new table after the last of its kind, or at the end if it is the first."""
    newline = "\r\n" if "\r\n" in text else "\n"
    lines = text.splitlines()
    same = [item for item in blocks(lines) if item.kind == kind]
    place = same[-1].end if same else len(lines)
    for item in same:  # a single [site] becomes the first of several
        lines[item.start] = re.sub(r"^([ \t]*)\[(?!\[)([^\]]*)\]", r"\1[[\2]]", lines[item.start])
    after = [""] if place < len(lines) and lines[place].strip() else []
    lines[place:place] = ["", *block.strip().splitlines(), *after]
    return newline.join(lines) + newline


def without_block(text: str, kind: str, place: int, *, what: str, file: str) -> str:
    """Return the text without one table, the one at `place` among its kind.

    Raises InvalidInputError if the table is written in a way that cannot be taken out, such as a list on one line.
    """
    newline = "\r\n" if "\r\n" in text else "\n"
    lines = text.splitlines()
    same = [item for item in blocks(lines) if item.kind == kind]
    if place < len(same):
        chosen = same[place]
        end = chosen.end + (chosen.end < len(lines) and not lines[chosen.end].strip())
        edited = newline.join(lines[: chosen.start] + lines[end:]) + newline
        if _parsed(edited) == _without(tomllib.loads(text), kind, place):
            return edited
    raise InvalidInputError(what, file, f"writes its [[{kind}]] tables in a way that only you can change",
                            "Take it out with a text editor.")


def _parsed(text: str) -> Mapping[str, Any] | None:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return None


def _without(document: dict[str, Any], kind: str, place: int) -> Mapping[str, Any]:
    left = [table for number, table in enumerate(tables_of(document, kind)) if number != place]
    rest = {key: value for key, value in document.items() if key != kind}
    return {**rest, kind: left} if left else rest


@contextlib.contextmanager
def before_notes(table: Any) -> Iterator[None]:
    """Let keys be set after a table's last key, before the notes that lead to the next table."""
    body = table.value.body
    tail = []
    while body and body[-1][0] is None:
        tail.append(body.pop()[1])
    yield
    body.extend((None, item) for item in reversed(tail))


def change_keys(table: Any, changes: Mapping[str, Any]) -> None:
    """Set the keys of a table; None takes one out."""
    with before_notes(table):
        for key, value in changes.items():
            if value is None:
                table.pop(key, None)
            else:
                table[key] = toml_value(value)


def table_text(header: str, values: Mapping[str, Any]) -> str:
    """Return a new table as it is written below its header, without the values that are None."""
    import tomlkit

    table = tomlkit.table()
    table.update({key: toml_value(value) for key, value in values.items() if value is not None})
    return f"{header}\n{tomlkit.dumps(table)}"


def toml_value(value: Any) -> Any:
    """Return a value as it is written in a file: a mapping on one line, without what is None in it."""
    import tomlkit

    if isinstance(value, u.Quantity):
        return quantity_text(value)
    if isinstance(value, (bool, str, int, datetime.date)):
        return value
    if isinstance(value, float) or hasattr(value, "item"):
        return float(f"{float(value):.10g}")
    if isinstance(value, PeriodicTerm):
        value = {"period": value.period, "amplitude": value.amplitude, "phase": value.phase}
    if isinstance(value, Mapping):
        line = tomlkit.inline_table()
        line.update({key: toml_value(one) for key, one in value.items() if one is not None})
        return line
    array = tomlkit.array()
    for one in value:
        array.append(toml_value(one))
    return array.multiline(len(array) > 1 and not all(isinstance(one, str) for one in value))
