"""Changing the pier file: comments, order and all else stay as they are, the version before is kept as ``.bak``.

A file is held as its tables: a dictionary of values as written for each table that stands once, a list of such
dictionaries for each that may repeat. A row is known by its name, a cable by its two ends.
"""

import copy
import dataclasses
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from astropy import units as u

from planner.errors import InvalidInputError
from planner.files.equipment.tables import as_written
from planner.files.own_files import packaged_data, toml_document
from planner.files.pier import pier_path
from planner.files.pier.load import LISTS, SINGLES, WHAT, parse_pier
from planner.files.quantities import quantity_text
from planner.files.reading import read_text
from planner.files.toml_tables import change_keys, table_text, tables_of, with_block, without_block
from planner.files.writing import rewrite
from planner.pier import PierSetup

Tables = dict[str, Any]
_GONE = object()


def pier_tables(path: Path | str | None = None) -> Tables:
    """Return every table of a pier file as it is written, by kind; empty where the file has none.

    Raises InvalidInputError if the file cannot be read or is not TOML.
    """
    used = pier_path(path)
    return _tables(read_text(used, what=WHAT), used.name)


def try_pier(path: Path | str | None, tables: Tables) -> tuple[PierSetup | None, list[InvalidInputError]]:
    """Return the pier as it would be with these tables, None if it has problems, and the problems; writes nothing.

    Raises InvalidInputError if the file itself cannot be read or is not TOML.
    """
    used = pier_path(path)
    text = read_text(used, what=WHAT)
    return parse_pier(_with_tables(text, used.name, tables), file=used.name, is_demo=used == packaged_data("pier.toml"))


def write_pier(path: Path | str | None, start: Tables, tables: Tables) -> Path:
    """Write these tables into a pier file that still holds those of the start, and return its path.

    Raises InvalidInputError if the file is the packaged demo, was changed since the start, or would have problems. It
    then stands as it was.
    """
    used = pier_path(path).resolve()
    if used == packaged_data("pier.toml").resolve():
        raise InvalidInputError(WHAT, used.name, "is the packaged demo and cannot be changed",
                                'Begin your own first: "planner init pier".')

    def edited(text: str) -> str:
        if _tables(text, used.name) != start:
            raise InvalidInputError(WHAT, used.name, "was changed elsewhere at this moment", "Save again.")
        new = _with_tables(text, used.name, tables)
        problems = parse_pier(new, file=used.name)[1]
        if problems:
            raise problems[0]
        return new

    rewrite(used, edited, what=WHAT)
    return used


def merged(start: Tables, mine: Tables, theirs: Tables) -> tuple[Tables, list[str]]:
    """Return the tables with both changes in them, and a line for each figure that both changed; mine stands there.

    `start`, `mine` and `theirs`: what both began from, what one made of it, what the file holds now.
    """
    lost: list[str] = []
    both = _merged("", _by_name(start), _by_name(mine), _by_name(theirs), lost)
    return {kind: list(part.values()) if kind in LISTS else part for kind, part in both.items()}, lost


def differences(before: Tables, after: Tables) -> list[tuple[str, str, str]]:
    """Return what differs, a row each: the figure, its text before and after."""
    return list(_differing("", _by_name(before), _by_name(after)))


def example_share(tables: Tables) -> tuple[int, int]:
    """Return how many of the figures are still those of the packaged example, and how many there are."""
    example = _figures(_by_name(pier_tables(packaged_data("pier.toml"))))
    own = _figures(_by_name(tables))
    return len(own & example), len(own)


def _figures(tables: dict[str, dict[str, Any]]) -> set[tuple[str, ...]]:
    """Return every number of the tables with its place."""
    rows = [((kind, str(name)), row) for kind, part in tables.items() for name, row in part.items()]
    flat = [(label, value) for label, row in rows
            for value in ([(key, one) for key, one in row.items()] if isinstance(row, dict) else [("", row)])]
    return {(*label, key, str(value)) for label, (key, value) in flat if any(sign.isdigit() for sign in str(value))}


def with_changes(tables: Tables, before: PierSetup, after: PierSetup) -> Tables:
    """Return the tables with all that differs between two piers written into them; what is the same stays as written.

    `tables`: of the pier before.
    """
    new = copy.deepcopy(tables)
    parts = _models(before)
    for kind, models in _models(after).items():
        if kind in LISTS:
            new[kind] = _rows(kind, tables[kind], parts[kind], models)
        else:
            _set(new[kind], parts[kind], models)
    return new


def _models(setup: PierSetup) -> dict[str, Any]:
    found: dict[str, Any] = {"column": setup.column, "footing": setup.footing, "night": setup.conditions}
    if setup.assembly is not None:
        found |= {"mount": setup.assembly, "bar": setup.assembly.bar, "tube": setup.assembly.parts,
                  "counterweight": setup.assembly.counterweights}
        found |= {} if setup.assembly.rotator is None else {"rotator": setup.assembly.rotator}
    if setup.tree is not None:
        found |= {"supply": setup.tree.supply, "hub": setup.tree.hubs, "load": setup.tree.loads,
                  "cable": setup.tree.cables}
    return found


def _rows(kind: str, rows: list[dict[str, Any]], before: tuple[Any, ...], after: tuple[Any, ...]
          ) -> list[dict[str, Any]]:
    known = {_name_of(kind, vars(model)): (row, model) for row, model in zip(rows, before, strict=True)}
    new = []
    for model in after:
        row, old = known.get(_name_of(kind, vars(model)), ({}, None))
        new.append(_set(dict(row), old, model))
    return new


def _set(table: dict[str, Any], before: Any, after: Any) -> dict[str, Any]:
    """Write what differs between two models into a table; all but the usual values where there was none before."""
    for item in dataclasses.fields(after) if after is not None else ():
        rule = item.metadata.get("rule")
        if rule is None or rule.kind == "other":
            continue
        usual = item.default_factory() if item.default_factory is not dataclasses.MISSING else item.default
        old, new = usual if before is None else getattr(before, item.name), getattr(after, item.name)
        if new is None:
            table.pop(item.name, None)
        elif old is None or old is dataclasses.MISSING or old != new:
            table[item.name] = quantity_text(new) if isinstance(new, u.Quantity) else new
    return table


def _tables(text: str, file: str) -> Tables:
    document = toml_document(text, what=WHAT, file=file)
    single: Tables = {kind: document.get(kind, {}) for kind in SINGLES}
    lists = {kind: tables_of(document, kind) for kind in LISTS}
    for kind, table in [*single.items(), *((kind, row) for kind, rows in lists.items() for row in rows)]:
        if not isinstance(table, dict):
            raise InvalidInputError(f"{file}: {kind}", as_written(table), "must be a table",
                                    f"Start it with a line {f'[[{kind}]]' if kind in LISTS else f'[{kind}]'}.")
    return single | lists


def _name_of(kind: str, row: Any) -> str:
    keys = ("source", "feeds") if kind == "cable" else ("name",)
    return " → ".join(str(row.get(key, "")).strip() for key in keys)


def _by_name(tables: Tables) -> dict[str, dict[str, Any]]:
    """Return the tables with the rows of each list under their names; a second one of a name keeps a number."""
    named: dict[str, dict[str, Any]] = {}
    for kind, part in tables.items():
        if kind not in LISTS:
            named[kind] = part
            continue
        rows: dict[str, Any] = {}
        for row in part:
            name = _name_of(kind, row)
            rows[name if name not in rows else f"{name} ({len(rows) + 1})"] = row
        named[kind] = rows
    return named


def _merged(label: str, start: Any, mine: Any, theirs: Any, lost: list[str]) -> Any:
    if mine in (start, theirs):
        return theirs
    if theirs == start:
        return mine
    if isinstance(mine, dict) and isinstance(theirs, dict):
        first = start if isinstance(start, dict) else {}
        keys = [*theirs, *(key for key in mine if key not in theirs)]
        both = ((key, _merged(_under(label, key), first.get(key, _GONE), mine.get(key, _GONE), theirs.get(key, _GONE),
                              lost)) for key in keys)
        return {key: value for key, value in both if value is not _GONE}
    lost.append(f"{label}: {_text(start)} became {_text(theirs)} elsewhere, yours is {_text(mine)}.")
    return mine


def _differing(label: str, before: Any, after: Any) -> Iterator[tuple[str, str, str]]:
    if isinstance(before, dict) and isinstance(after, dict):
        for key in [*before, *(key for key in after if key not in before)]:
            yield from _differing(_under(label, key), before.get(key, _GONE), after.get(key, _GONE))
    elif before != after:
        yield label, _text(before), _text(after)


def _under(label: str, key: str) -> str:
    """Return the label of what stands under a key: a table, a row by its name, a figure."""
    return f"{label} “{key}”" if label in LISTS else f"{label} {key.replace('_', ' ')}".strip()


def _text(value: Any) -> str:
    if value is _GONE:
        return "not there"
    if isinstance(value, dict):
        return ", ".join(_text(one) for one in value.values())
    return value if isinstance(value, str) else as_written(value)


def _with_tables(text: str, file: str, tables: Tables) -> str:
    import tomlkit

    there = _tables(text, file)
    document = tomlkit.parse(text)
    left: dict[str, list[int | None]] = {}
    for kind in (kind for kind in LISTS if tables[kind] != there[kind]):
        left[kind] = _places(kind, there[kind], tables[kind])
        for place, row in zip(left[kind], tables[kind], strict=True):
            if place is not None:
                _change(tables_of(document, kind)[place], there[kind][place], row)
    for kind in (kind for kind in SINGLES if kind in document and tables[kind]):
        _change(document[kind], there[kind], tables[kind])
    new = tomlkit.dumps(document)
    for kind in (kind for kind in SINGLES if bool(tables[kind]) != bool(there[kind])):
        new = (with_block(new, kind, table_text(f"[{kind}]", tables[kind])) if tables[kind] else
               without_block(new, kind, 0, what=WHAT, file=file))
    for kind, places in left.items():
        for place in sorted(set(range(len(there[kind]))) - set(places), reverse=True):
            new = without_block(new, kind, place, what=WHAT, file=file)
        for row in (row for place, row in zip(places, tables[kind], strict=True) if place is None):
            new = with_block(new, kind, table_text(f"[[{kind}]]", row))
    return new


def _places(kind: str, there: list[dict[str, Any]], rows: list[dict[str, Any]]) -> list[int | None]:
    """Return where each row stands in the file: that of its name, else one at its own place whose name is gone."""
    names, wanted = [_name_of(kind, row) for row in there], [_name_of(kind, row) for row in rows]
    places: list[int | None] = []
    for number, name in enumerate(wanted):
        free = [place for place, known in enumerate(names) if known == name and place not in places]
        renamed = number < len(names) and names[number] not in wanted and number not in places
        places.append(free[0] if free else number if renamed else None)
    return places


def _change(table: Any, before: dict[str, Any], after: dict[str, Any]) -> None:
    gone: dict[str, Any] = {key: None for key in before if key not in after}
    change_keys(table, gone | {key: value for key, value in after.items() if before.get(key, _GONE) != value})


def tables_key(tables: Tables) -> str:
    """Return a text that is the same for equal tables."""
    return json.dumps(tables, sort_keys=True, default=str)
