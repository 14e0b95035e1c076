"""A quantity step by step from its start to what is left or has come of it."""

import altair as alt
import pandas as pd

from planner.charts.theme import BLUE, LINES, VERMILION, in_lines
from planner.session.advice.waterfall import Waterfall
from planner.signs import minus

ROW_HEIGHT, AXIS_HEIGHT = 26, 50  # screen pixels
RESULT = "what comes of it"


def waterfall_frame(found: Waterfall) -> pd.DataFrame:
    """Return the steps as a table: step, before, after, change, whole (start and result)."""
    level = found.levels.value
    before = [0.0, *level[:-1], 0.0]
    after = [*level, level[-1]]
    return pd.DataFrame({"step": [*found.names, RESULT], "before": before, "after": after,
                         "change": [end - begin for begin, end in zip(before, after, strict=True)],
                         "whole": [place in (0, len(level)) for place in range(len(level) + 1)]})


def waterfall_chart(found: Waterfall, unit: str, says: str, digits: int = 1) -> alt.LayerChart:
    """Draw the steps one below the other, each from where the one before ended; `says` is what the picture shows."""
    table = waterfall_frame(found)
    table["step"] = table["step"].map(in_lines)
    table["label"] = [f"{row.after:.1f}" if row.whole else _signed(row.change, digits) for row in table.itertuples()]
    table["end"] = table[["before", "after"]].max(axis=1)
    top = float(table["end"].max()) * 1.18
    y = alt.Y("step:N", sort=None, title=None, scale=alt.Scale(paddingInner=0.3),
              axis=alt.Axis(labelLimit=190, labelExpr=LINES))
    base = alt.Chart(table)
    bars = base.mark_bar().encode(
        y=y, x=alt.X("before:Q", title=unit, scale=alt.Scale(domain=[0, top], nice=False), axis=alt.Axis(tickCount=5)),
        x2=alt.X2("after:Q"), color=alt.condition("datum.whole", alt.value(BLUE), alt.value(VERMILION)),
        tooltip=[alt.Tooltip("step:N"), alt.Tooltip("change:Q", format=f"+.{digits}f"),
                 alt.Tooltip("after:Q", title="after it", format=f".{digits}f")])
    texts = base.mark_text(align="left", dx=5, fontSize=12).encode(y=y, x=alt.X("end:Q"), text=alt.Text("label:N"))
    return alt.layer(bars, texts).properties(height=ROW_HEIGHT * len(table) + AXIS_HEIGHT, description=says)


def _signed(change: float, digits: int) -> str:
    """Return a change with its sign; one that rounds to nothing as 0."""
    text = f"{change:+.{digits}f}"
    return "0" if float(text) == 0 else minus(text)
