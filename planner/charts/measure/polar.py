"""The picture of a polar axis: how far it is off the true pole, up or down and sideways."""

import altair as alt
import pandas as pd
from astropy import units as u

from planner.charts.theme import BLUE, GREY, PALE
from planner.measure.polar.alignment import PolarAlignment

UP, SIDE = "up / down", "east / west"
ENDS = {"altitude": ("too low", "too high"), "azimuth": ("west", "east")}


def axis_frame(found: PolarAlignment) -> pd.DataFrame:
    """Return the axis as a table: angle, error_arcmin, uncertainty_arcmin, low and high of twice that, label."""
    rows = []
    for angle, name in ((UP, "altitude"), (SIDE, "azimuth")):
        value, spread = (getattr(found, f"{name}_{what}").to_value(u.arcmin) for what in ("error", "uncertainty"))
        word = ENDS[name][int(value > 0)]
        rows.append((angle, value, spread, value - 2 * spread, value + 2 * spread, f"{abs(value):.1f}′ {word}"))
    return pd.DataFrame(rows, columns=["angle", "error_arcmin", "uncertainty_arcmin", "low", "high", "label"])


def axis_chart(found: PolarAlignment) -> alt.LayerChart:
    """Draw both errors of the axis as beams from the true pole, with two standard errors."""
    base = alt.Chart(axis_frame(found)).encode(y=alt.Y("angle:N", title=None, sort=[UP, SIDE]))
    pole = alt.Chart(pd.DataFrame([{"pole": 0}])).mark_rule(color=GREY, strokeWidth=2).encode(x=alt.X("pole:Q"))
    x = alt.X("error_arcmin:Q", title="low or west  ←  from the true pole (arcmin)  →  high or east",
              scale=alt.Scale(padding=30))
    return alt.layer(
        base.mark_bar(size=16, color=PALE).encode(x=x),
        base.mark_rule(strokeWidth=2.4, color=BLUE).encode(x=alt.X("low:Q"), x2=alt.X2("high:Q")),
        base.mark_point(shape="stroke", angle=90, size=260, strokeWidth=3, color=BLUE, opacity=1).encode(x=x),
        base.mark_text(dy=-17, fontSize=13).encode(x=x, text=alt.Text("label:N")), pole,
    ).properties(height=150, description="How far the polar axis is off in altitude and azimuth, with its error.")
