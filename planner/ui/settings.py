"""One set of settings for all pages: kept when a page is left, written in the address, checked as they are typed.

A setting has a name, under which it stands in the address. `choice_<name>` holds the last good value, None for the
usual one; `typed_<name>` what the field says. A field that says something else than the value below it says so, and the
page below is drawn faint (`mark_stale`): nothing old stands in full strength beside an error.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import pandas as pd
import streamlit as st

from planner.checks import Rule
from planner.errors import InvalidInputError
from planner.files.forms.typed import typed_number
from planner.ui.plain import plain

FRAME = ("rig", "site", "target", "night")
NUMBERS = ("lowest", "stay", "hours", "brightness", "line", "ratio", "area", "count")
PICKS = ("filter", "from", "until", "only", "moon", "when", "kind", "source", "names")
KEPT = (*FRAME, *NUMBERS, *PICKS)
TAKE = "Answer from these rows"


def begin() -> None:
    """Start a run of the page: nothing is stale yet."""
    st.session_state["stale"] = []


def mark_stale(why: str) -> None:
    """Say for the rest of this run that the page shows an answer to something else than what stands in its fields."""
    st.session_state.setdefault("stale", []).append(why)


def stale() -> tuple[str, ...]:
    """Return what makes the page stale."""
    return tuple(st.session_state.get("stale", ()))


def hold(widget: str, value: Any) -> Any:
    """Give a widget its value before it is shown, unless it has it already: what is being typed is left alone.

    Returned for its default, too: a browser that makes it only after the next run is told nothing else.
    """
    if widget not in st.session_state or st.session_state[widget] != value:
        st.session_state[widget] = value
    return value


def number(name: str, label: str, usual: float | None, rule: Rule, *, place: Any = st, help: str = "",
           placeholder: str = "") -> float | None:
    """Show the field of a number and return its value; decimals have a point or a comma, an empty field the usual.

    What is no number, or none that the rule allows, is told below the field; the last good value stays.
    """
    state = st.session_state
    if state.get(f"typed_{name}") is None:
        kept = state.get(f"choice_{name}")
        state[f"typed_{name}"] = "" if kept is None else f"{kept:g}"
    widget = f"widget_{name}"
    held = hold(widget, state[f"typed_{name}"])
    place.text_input(label, held, key=widget, on_change=_keep_typed, args=(name, label, usual, rule), help=help or None,
                     placeholder=placeholder or ("" if usual is None else f"{usual:g}"))
    error = _judged(name, label, usual, rule)
    kept = state.get(f"choice_{name}")
    value = usual if kept is None else float(kept)
    if error is not None:
        below = "Below it is left out." if value is None else f"Below it is still {value:g}."
        place.error(plain(f"{error} {below}"))
        mark_stale(label)
    return value


def bare(rule: Rule) -> Rule:
    """Return the rule of a quantity for a field that names its unit: the number alone is typed."""
    return replace(rule, unit=None, kind="number", remedy=f"Give {rule.unit}.")


def ask_for_rows(rows: Sequence[Sequence[str]], columns: Mapping[str, Rule | None], key: str, *, alt: str,
                 take: str = TAKE) -> list[tuple[float | str, ...]]:
    """Show a table to be changed, with a button to take it, and return its rows; those left empty are left out.

    A run of the page would lose what is being typed into a cell: what was typed is taken at the next click. Until then
    every block whose key begins with ``of_rows`` is drawn faint.

    Parameters
    ----------
    rows : sequence of sequences of str
        What stands in it at first.
    columns : mapping of str to Rule or None
        The rule of each column's numbers; None: a text.
    key : str
        Of the widget.
    alt : str
        What the table holds, for those who do not see it.
    take : str
        What the button says.

    Raises
    ------
    InvalidInputError
        If a row is not full, or holds what is no number or breaks its rule.
    """
    with st.container(key=f"rows_{key}"):
        st.data_editor(pd.DataFrame(rows, columns=list(columns), dtype=str), key=key, num_rows="dynamic",
                       hide_index=True, width="stretch", alt=alt, placeholder="", on_change="ignore",
                       column_config={name: st.column_config.TextColumn(name) for name in columns})
    take_rows(key, take)
    return rows_typed(rows, columns, key)


def take_rows(key: str, words: str = TAKE) -> None:
    """Show the button that takes what was typed into tables that do not run the page; the answers are fresh again."""
    st.button(words, key=f"{key}_take")
    runs = st.session_state["rows_taken"] = st.session_state.get("rows_taken", 0) + 1  # a script anew is run anew
    st.html(f"<script>/*{runs}*/ window.plannerRowsTaken && window.plannerRowsTaken()</script>",
            unsafe_allow_javascript=True)


def rows_typed(rows: Sequence[Sequence[str]], columns: Mapping[str, Rule | None], key: str
               ) -> list[tuple[float | str, ...]]:
    """Return the rows of such a table as they stand at this moment; parameters and errors of `ask_for_rows`."""
    found = []
    for place, row in enumerate(edited([dict(zip(columns, row, strict=True)) for row in rows], key), start=1):
        cells = [str(row.get(name) or "").strip() for name in columns]
        if all(cells):
            found.append(tuple(cell if rule is None else typed_number(f"line {place}, {name}", cell, rule)
                               for cell, (name, rule) in zip(cells, columns.items(), strict=True)))
        elif any(cells):
            name = f"line {place}, {list(columns)[cells.index('')]}"
            raise InvalidInputError(name, "(missing)", "must be given", "Fill the line, or empty it.")
    return found


def edited(rows: list[dict[str, Any]], key: str) -> list[dict[str, Any]]:
    """Return the rows of a table with what has been typed over, taken out and added by this moment."""
    changes = st.session_state.get(key) or {}
    typed, gone = changes.get("edited_rows", {}), set(changes.get("deleted_rows", ()))
    kept = [row | typed.get(place, {}) for place, row in enumerate(rows) if place not in gone]
    return kept + list(changes.get("added_rows", ()))


def pick(name: str, label: str, options: Sequence[str], *, place: Any = st, key: str = "",
         format_func: Callable[[str], str] = str) -> str:
    """Show the list of a setting and return the one picked; the first where what was picked is not there."""
    state = st.session_state
    known = {option.lower(): option for option in options}
    picked = known.get(str(state.get(f"choice_{name}") or "").lower(), options[0])
    widget = key or f"widget_{name}"
    hold(widget, picked)
    place.selectbox(label, options, options.index(picked), key=widget, on_change=_keep_pick, args=(name, widget),
                    format_func=format_func)
    return picked


def take(address: dict[str, str]) -> None:
    """Take numbers and picks from an address."""
    for name in NUMBERS:
        st.session_state[f"choice_{name}"] = None
        st.session_state[f"typed_{name}"] = address.get(name, "")
    for name in PICKS:
        st.session_state[f"choice_{name}"] = address.get(name)


def written() -> dict[str, str]:
    """Return numbers and picks as the address writes them; what is usual is left out."""
    state = st.session_state
    numbers = {name: f"{state[f'choice_{name}']:g}" for name in NUMBERS if state.get(f"choice_{name}") is not None}
    return numbers | {name: state[f"choice_{name}"] for name in PICKS if state.get(f"choice_{name}")}


def _keep_typed(name: str, label: str, usual: float | None, rule: Rule) -> None:
    st.session_state[f"typed_{name}"] = st.session_state[f"widget_{name}"]
    _judged(name, label, usual, rule)


def _judged(name: str, label: str, usual: float | None, rule: Rule) -> InvalidInputError | None:
    """Make what was typed the choice, or return what is wrong with it."""
    typed = st.session_state[f"typed_{name}"]
    try:
        value = typed_number(label, typed, rule) if typed.strip() else None
    except InvalidInputError as error:
        return error
    st.session_state[f"choice_{name}"] = None if value == usual else value
    return None


def _keep_pick(name: str, widget: str) -> None:
    st.session_state[f"choice_{name}"] = st.session_state[widget]
