"""What the answer about a part rests on, and which of it the observer did not give."""

import streamlit as st

from planner.pier.column.standing.actions import DRAG, STUMBLE
from planner.ui.lines import draw_lines
from planner.ui.pier.draft import Draft, fields, shown
from planner.ui.plain import plain

# Figures that decide, by part: table and key.
FIGURES = {
    "Balance": (("pier", "latitude"), ("mount", "friction"), ("mount", "saddle_travel"), ("mount", "housing_mass"),
                ("bar", "mass"), ("mount", "payload"), ("mount", "payload_limit")),
    "12 V": (("night", "temperature"), ("night", "humidity"), ("night", "duration"), ("cable", "bundled"),
             ("cable", "connectors"), ("cable", "fuse_breaking"), ("load", "minimum_voltage"),
             ("load", "maximum_voltage"), ("load", "inrush_current")),
    "Column": (("loads", "wind_speed"), ("loads", "storm"), ("loads", "wind_area"), ("loads", "damping"),
               ("loads", "mount_frequency"), ("loads", "slew_rate"), ("loads", "sunny_side"),
               ("footing", "bearing_pressure"), ("footing", "shear_wave_speed"), ("footing", "soil_density"),
               ("footing", "frost_depth"), ("column", "concrete_strength")),
}
OWN, IN_PART, ASSUMED = "given", "in part", "assumed"


def show_assumed(draft: Draft, part: str, more: tuple[str, ...]) -> None:
    """Show what a part's answer rests on, what is assumed first."""
    rows = _rows(draft, part)
    assumed, count = assumed_share(draft, part)
    with st.expander(f"What this rests on: {assumed} of {count} figures assumed, all or in part", expanded=True):
        draw_lines(st, sorted(rows, key=lambda row: row[0] == OWN))
        if more:
            st.markdown("\n".join(f"- {plain(line)}" for line in more))


def assumed_share(draft: Draft, part: str) -> tuple[int, int]:
    """Return how many of the figures behind a part's answer are assumed, all or in part, and how many there are."""
    rows = _rows(draft, part)
    return sum(row[0] != OWN for row in rows), len(rows)


def _rows(draft: Draft, part: str) -> list[tuple[str, str]]:
    rows = [_row(draft, kind, key) for kind, key in FIGURES[part]]
    if part == "Column":
        rows += [(ASSUMED, f"drag of tube and column: {DRAG:g}"),
                 (ASSUMED, f"somebody who stumbles against it: {STUMBLE:g}")]
    return rows


def _row(draft: Draft, kind: str, key: str) -> tuple[str, str]:
    """Return whether a figure is given, and the figure."""
    field = next(field for field in fields(kind) if field.key == key)
    tables = draft.tables[kind]
    rows = tables if isinstance(tables, list) else [tables]
    given = [str(shown(row[key], field.rule)) for row in rows if key in row]
    usual = str(shown(field.usual, field.rule)).replace("not given", "a usual one")
    label = {"bar": "bar: ", "cable": "each cable: ", "load": "each device: "}.get(kind, "")
    label += field.label[:1].lower() + field.label[1:]
    if not given:
        return ASSUMED, f"{label}: {usual}"
    values = ", ".join(dict.fromkeys(given))
    if len(given) < len(rows):
        return IN_PART, f"{label}: {values}; {usual} assumed for {len(rows) - len(given)} of {len(rows)}"
    return OWN, f"{label}: {values}"
