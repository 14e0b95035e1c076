"""The pier as it stands on the page: the tables of the file with what was changed in them and is not saved yet.

Fields and grids show the tables that they began with and keep what was typed into them. Whenever the tables change in
another way (applied, saved, changed elsewhere), or fields come into sight, all of them begin anew under new keys.
"""

import copy
import dataclasses
from pathlib import Path
from typing import Any

import streamlit as st

from planner.checks import Rule
from planner.errors import PlannerError
from planner.files.equipment.start import begin_file
from planner.files.equipment.tables import rules_of
from planner.files.own_files import packaged_data
from planner.files.pier import pier_path, user_pier_path
from planner.files.pier.edit import Tables, merged, pier_tables, with_changes, write_pier
from planner.files.pier.load import LISTS, SINGLES
from planner.files.quantities import unit_text
from planner.files.writing import version_kept
from planner.pier import PierSetup
from planner.ui.choices import said, say_after
from planner.ui.equipment.fields import Field, usual_of, written_value
from planner.ui.plain import plain

MODELS = {**SINGLES, **LISTS}
SAID, ELSEWHERE = "pier_said", "pier_elsewhere"


@dataclasses.dataclass
class Draft:
    """What the page began from and what it holds now."""

    start: Tables
    tables: Tables
    base: Tables  # what fields and grids began with
    version: int = 0
    untold: list[str] = dataclasses.field(default_factory=list)  # what was changed here and elsewhere

    def begin_anew(self) -> None:
        """Let all fields and grids show the tables as they are now."""
        self.base = copy.deepcopy(self.tables)
        self.version += 1


def fields(kind: str) -> list[Field]:
    """Return the figures of a table, those that must be given first."""
    rules = rules_of(MODELS[kind])
    found = [Field(item.name, rules[item.name], usual_of(item)) for item in dataclasses.fields(MODELS[kind])
             if item.name in rules and item.name != "is_demo"]
    return sorted(found, key=lambda field: field.usual is not None)


def grid_key(draft: Draft, kind: str) -> str:
    """Return the key of a grid's widget."""
    return f"pier_grid_{kind}_{draft.version}"


def field_key(draft: Draft, kind: str, key: str) -> str:
    """Return the key of the widget of one figure."""
    return f"pier_{kind}_{key}_{draft.version}"


def is_demo() -> bool:
    """Whether the page shows the packaged demo."""
    return pier_path() == packaged_data("pier.toml")


def current(path: Path) -> Draft:
    """Return the draft, brought to what fields, grids and the file hold at this moment.

    Raises InvalidInputError if the file cannot be read or is not TOML.
    """
    there = pier_tables(path)
    draft: Draft | None = st.session_state.get("pier_draft")
    if draft is None:
        draft = st.session_state["pier_draft"] = Draft(there, copy.deepcopy(there), copy.deepcopy(there))
        return draft
    _take_in(draft)
    if there != draft.start:
        _follow(draft, there)
    return draft


def _take_in(draft: Draft) -> None:
    """Bring the tables to what fields and grids hold; cables follow the new name of what they join."""
    state, tables = st.session_state, draft.tables
    for kind in SINGLES:
        typed = [(field, key) for field in fields(kind) if (key := field_key(draft, kind, field.key)) in state]
        tables[kind] = dict(draft.base[kind]) if typed else tables[kind]
        for field, key in typed:
            put(tables[kind], field, state[key])
    renamed = _renamed([draft.base["supply"]], [tables["supply"]])
    for kind in (kind for kind in LISTS if grid_key(draft, kind) in state):
        tables[kind] = _rows(kind, draft.base[kind], state[grid_key(draft, kind)])
        if kind in ("hub", "load") and not state[grid_key(draft, kind)].get("deleted_rows"):
            renamed |= _renamed(draft.base[kind], tables[kind])
    if renamed:
        for cable in tables["cable"]:
            cable |= {end: renamed[cable[end]] for end in ("source", "feeds") if cable.get(end) in renamed}
        draft.begin_anew()


def _renamed(before: list[dict[str, Any]], after: list[dict[str, Any]]) -> dict[str, str]:
    """Return the new name of each row that has another one."""
    return {old["name"]: new["name"] for old, new in zip(before, after, strict=False)
            if "name" in old and "name" in new and old["name"] != new["name"]}


def _follow(draft: Draft, there: Tables) -> None:
    """Take in what was changed elsewhere, and say so."""
    draft.tables, draft.untold = merged(draft.start, draft.tables, there)
    draft.start = there
    draft.begin_anew()
    say_after(ELSEWHERE, " ".join(["The pier file was changed elsewhere, in another window or an editor. What you have "
                                   "not touched is shown as it is now.", *draft.untold]))


def _rows(kind: str, base: list[dict[str, Any]], changes: dict[str, Any]) -> list[dict[str, Any]]:
    """Return the rows of a grid as they are written, with what was typed into it."""
    known = {field.key: field for field in fields(kind)}
    gone = set(changes.get("deleted_rows", ()))
    rows = [_changed(known, row, changes.get("edited_rows", {}).get(place, {})) for place, row in enumerate(base)
            if place not in gone]
    added = [_changed(known, {}, row) for row in changes.get("added_rows", ())]
    return rows + [row for row in added if row]


def _changed(known: dict[str, Field], row: dict[str, Any], typed: dict[str, Any]) -> dict[str, Any]:
    new = dict(row)
    for key, entered in typed.items():
        if key in known:
            put(new, known[key], entered)
    return new


def put(table: dict[str, Any], field: Field, entered: Any) -> None:
    """Put what was typed or chosen for a figure into its table; an empty one goes."""
    value = None if entered is None else written_value(field, entered)
    if isinstance(value, str) and not value.strip():
        value = None
    if value is None or (field.rule.kind in ("truth", "choice") and value == field.usual and field.key not in table):
        table.pop(field.key, None)
    elif shown(table.get(field.key), field.rule) != entered:
        table[field.key] = value


def shown(value: Any, rule: Rule) -> Any:
    """Return a value as a field or a cell shows it: without its unit where that is the label's."""
    if value is None or rule.kind in ("truth", "choice"):
        return value
    text = str(value)
    unit = unit_text(rule.unit)
    return text.removesuffix(unit).strip() if unit and text.endswith(f" {unit}") else text


def apply(before: PierSetup, after: PierSetup) -> None:
    """Put what differs between two piers into the draft."""
    draft = current(pier_path())
    draft.tables = with_changes(draft.tables, before, after)
    draft.begin_anew()


def discard() -> None:
    """Go back to what the file holds."""
    draft: Draft = st.session_state["pier_draft"]
    draft.tables = copy.deepcopy(draft.start)
    draft.begin_anew()


def save() -> None:
    """Save what stands on the page at this moment; what both changed is told once before it is replaced."""
    try:
        draft = current(pier_path())
        if draft.untold:
            st.session_state.pop(ELSEWHERE)
            say_after(SAID, f"{' '.join(draft.untold)} Save again to put yours in its place, or discard your changes.",
                      done=False)
            draft.untold = []
            return
        path = write_pier(None, draft.start, draft.tables)
        draft.start = copy.deepcopy(draft.tables)
        draft.begin_anew()
        say_after(SAID, f"Saved in {path.name}{version_kept(path)}.")
    except PlannerError as error:
        say_after(SAID, str(error), done=False)


def begin_own() -> None:
    """Begin a pier file of the observer's own; what was changed on the page stays."""
    try:
        current(pier_path())
        say_after(SAID, f"Your pier file is {begin_file('pier', user_pier_path())}. Its figures are examples: replace "
                        "them by yours.")
    except PlannerError as error:
        say_after(SAID, str(error), done=False)


def tell(draft: Draft) -> None:
    """Say what was done, and what was changed elsewhere."""
    draft.untold = []
    for key in (SAID, ELSEWHERE):
        told = said(key)
        if told is not None:
            show = st.warning if key == ELSEWHERE else st.success if told[1] else st.error
            show(plain(told[0]))
