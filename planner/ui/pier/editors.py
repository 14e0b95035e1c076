"""The tables of the pier file on the page: a form for each that stands once, a grid for each that may repeat."""

from typing import Any

import pandas as pd
import streamlit as st

from planner.files.pier.load import LISTS
from planner.ui.equipment.fields import Field
from planner.ui.pier.draft import Draft, field_key, fields, grid_key, shown
from planner.ui.settings import take_rows

TITLES = {"pier": "Pier", "night": "Night", "mount": "Mount", "bar": "Counterweight bar",
          "rotator": "Axis about which the camera turns", "supply": "Supply", "column": "Column",
          "footing": "Footing, rods and foot plate", "loads": "What it carries and what pushes it",
          "tube": "On the tube", "counterweight": "Counterweights", "hub": "Hubs", "load": "Devices", "cable": "Cables"}
# Figures that one kind of footing alone has; shown with it, or where the file gives them.
OF_A_FOOTING = {
    "depth": "pad", "frost_depth": "pad", "settlement": "pad", "slab_reach": "slab", "slab_thickness": "slab",
    "stance": "tripod", "foot_diameter": "tripod", "staked": "tripod", "joist_span": "suspended floor",
    "joist_stiffness": "suspended floor", "joists_run": "suspended floor", "floor_mass": "suspended floor"}


def show_tables(draft: Draft, kinds: tuple[str, ...]) -> None:
    """Show the tables of these kinds to be changed."""
    keys = [key for kind in kinds for key in ([grid_key(draft, kind)] if kind in LISTS else [
        field_key(draft, kind, field.key) for field in fields(kind)])]
    if not any(key in st.session_state for key in keys):  # they come into sight
        draft.begin_anew()
    last = next((kind for kind in reversed(kinds) if kind in LISTS), "")
    for kind in kinds:
        st.markdown(f"**{TITLES[kind]}**")
        if kind in LISTS:
            _grid(draft, kind)
        else:
            _form(draft, kind)
        if kind == last:
            take_rows("pier")


def _form(draft: Draft, kind: str) -> None:
    known = [field for field in fields(kind) if _belongs(field, kind, draft.tables[kind])]
    columns = st.columns(3)
    for place, field in enumerate(known):
        value = shown(draft.base[kind].get(field.key), field.rule)
        common: dict[str, Any] = {"key": field_key(draft, kind, field.key), "help": field.help or None}
        with columns[place * 3 // len(known)]:
            if field.rule.kind == "choice":
                chosen = field.usual if value not in field.rule.choices else value
                st.selectbox(field.label, field.rule.choices, index=field.rule.choices.index(chosen), **common)
            elif field.rule.kind == "truth":
                st.checkbox(field.label, bool(field.usual if value is None else value), **common)
            else:
                usual = _usual(draft, kind, field)
                st.text_input(field.label, "" if value is None else value, placeholder=usual, **common)


def _belongs(field: Field, kind: str, table: dict[str, Any]) -> bool:
    of = OF_A_FOOTING.get(field.key) if kind == "footing" else None
    return of is None or field.key in table or table.get("kind", "pad") == of


def _usual(draft: Draft, kind: str, field: Field) -> str:
    """Return what stands in grey where nothing is typed."""
    if (kind, field.key) == ("loads", "mass") and draft.tables["tube"]:
        return "that of the balance"
    usual = shown(field.usual, field.rule)
    return "must be given" if usual is None else "not given" if usual == "not given" else f"{usual} (assumed)"


def _grid(draft: Draft, kind: str) -> None:
    known = fields(kind)
    rows = [{field.key: _cell(field, row) for field in known} for row in draft.base[kind]]
    frame = pd.DataFrame(rows, columns=[field.key for field in known], dtype=object)
    with st.container(key=f"rows_pier_{kind}"):
        st.data_editor(frame, key=grid_key(draft, kind), num_rows="dynamic", hide_index=True, width="stretch",
                       placeholder="—", alt=f"{TITLES[kind]}: a row each, to be changed.", on_change="ignore",
                       column_config={field.key: _column(draft, kind, field) for field in known})


def _cell(field: Field, row: dict[str, Any]) -> Any:
    value = shown(row.get(field.key), field.rule)
    return field.usual if value is None and field.rule.kind in ("truth", "choice") else value


def _column(draft: Draft, kind: str, field: Field) -> Any:
    """Return how a figure's column looks and what it takes."""
    about: dict[str, Any] = {"label": field.label, "help": field.help or None}
    if field.rule.kind == "truth":
        return st.column_config.CheckboxColumn(default=field.usual, **about)
    if field.rule.kind == "choice":
        return st.column_config.SelectboxColumn(options=field.rule.choices, default=field.usual, **about)
    if kind == "cable" and field.key in ("source", "feeds"):
        return st.column_config.SelectboxColumn(options=_ends(draft, field.key), **about)
    return st.column_config.TextColumn(pinned=field.key == "name", **about)


def _ends(draft: Draft, end: str) -> list[str]:
    """Return what a cable may come from or feed, with what the rows name by now."""
    kinds = ("hub",) if end == "source" else ("hub", "load")
    names = [row.get("name") for kind in kinds for row in draft.tables[kind]]
    if end == "source":
        names.insert(0, draft.tables["supply"].get("name"))
    return list(dict.fromkeys(str(name) for name in [*names, *(row.get(end) for row in draft.base["cable"])] if name))
