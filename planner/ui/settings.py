"""One set of settings for all pages: kept when a page is left, written in the address, checked as they are typed.

A setting has a name, under which it stands in the address. `choice_<name>` holds the last good value, None for the
usual one; `typed_<name>` what the field says. A field that says something else than the value below it says so, and the
page below is drawn faint (`mark_stale`): nothing old stands in full strength beside an error.
"""

from collections.abc import Callable, Sequence
from typing import Any

import streamlit as st

from planner.checks import Rule
from planner.errors import InvalidInputError
from planner.files.forms.typed import typed_number
from planner.ui.plain import plain

FRAME = ("rig", "site", "target", "night")
NUMBERS = ("lowest", "stay", "hours", "brightness", "ratio", "count")
PICKS = ("filter", "from", "until", "only", "moon", "when", "kind", "source", "names")
KEPT = (*FRAME, *NUMBERS, *PICKS)


def begin() -> None:
    """Start a run of the page: nothing is stale yet."""
    st.session_state["stale"] = []


def mark_stale(why: str) -> None:
    """Say for the rest of this run that the page shows an answer to something else than what stands in its fields."""
    st.session_state.setdefault("stale", []).append(why)


def stale() -> tuple[str, ...]:
    """Return what makes the page stale."""
    return tuple(st.session_state.get("stale", ()))


def hold(widget: str, value: Any) -> None:
    """Give a widget its value before it is shown, unless it has it already: what is being typed is left alone."""
    if widget not in st.session_state or st.session_state[widget] != value:
        st.session_state[widget] = value


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
    hold(widget, state[f"typed_{name}"])
    place.text_input(label, key=widget, on_change=_keep_typed, args=(name,), help=help or None,
                     placeholder=placeholder or ("" if usual is None else f"{usual:g}"))
    typed = state[f"typed_{name}"]
    try:
        value = typed_number(label, typed, rule) if typed.strip() else None
        state[f"choice_{name}"] = None if value == usual else value
    except InvalidInputError as error:
        kept = state.get(f"choice_{name}")
        shown = usual if kept is None else kept
        below = f"Below it is still {shown:g}." if shown is not None else "Below it is left out."
        place.error(plain(f"{error} {below}"))
        mark_stale(label)
    kept = state.get(f"choice_{name}")
    return usual if kept is None else float(kept)


def pick(name: str, label: str, options: Sequence[str], *, place: Any = st, key: str = "",
         format_func: Callable[[str], str] = str) -> str:
    """Show the list of a setting and return the one picked; the first where what was picked is not there."""
    state = st.session_state
    known = {option.lower(): option for option in options}
    picked = known.get(str(state.get(f"choice_{name}") or "").lower(), options[0])
    widget = key or f"widget_{name}"
    hold(widget, picked)
    place.selectbox(label, options, key=widget, on_change=_keep_pick, args=(name, widget), format_func=format_func)
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


def _keep_typed(name: str) -> None:
    st.session_state[f"typed_{name}"] = st.session_state[f"widget_{name}"]


def _keep_pick(name: str, widget: str) -> None:
    st.session_state[f"choice_{name}"] = st.session_state[widget]
