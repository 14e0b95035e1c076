"""The pictures of a pointing fit: where on the sky it misses, and the drift it implies along a target's path."""

from typing import Any

import altair as alt
import pandas as pd

from planner.charts.theme import AXIS_COLOURS, EAST_HUE, GREY, WEST_HUE
from planner.measure.pointing.residual_plan import ResidualPlan

SIDES = ["east", "west"]
SIDE_COLOURS = alt.Scale(domain=SIDES, range=[EAST_HUE, WEST_HUE])
SIDE_SHAPES = alt.Scale(domain=SIDES, range=["square", "circle"])
QUARTERS = "{'0': 'N', '90': 'E', '180': 'S', '270': 'W', '360': 'N'}[datum.value]"
HOUR_ANGLES = list(range(-75, 76, 15))
AXES = {"ra_arcsec_per_h": "RA", "dec_arcsec_per_h": "Dec"}


def plan_frame(plan: ResidualPlan) -> pd.DataFrame:
    """Return the sightings as a table: place, arrow's tip, residual across and up, telescope's side, outlier."""
    return pd.DataFrame({
        "azimuth_deg": plan.azimuth_deg, "altitude_deg": plan.altitude_deg, "across_arcsec": plan.across_arcsec,
        "up_arcsec": plan.up_arcsec, "tip_azimuth_deg": plan.tip_azimuth_deg,
        "tip_altitude_deg": plan.tip_altitude_deg, "telescope": plan.pier_side, "outlier": plan.outlier})


def plan_chart(plan: ResidualPlan) -> alt.LayerChart:
    """Draw the sightings where they were on the sky, the horizon below, each with its residual as a stretched arrow."""
    table = plan_frame(plan)
    base = alt.Chart(table)
    x = alt.X("azimuth_deg:Q", title="azimuth", scale=alt.Scale(domain=[0, 360], nice=False),
              axis=alt.Axis(values=[0, 90, 180, 270, 360], labelExpr=QUARTERS))
    y = alt.Y("altitude_deg:Q", title="altitude (°)", scale=alt.Scale(domain=[0, 90], nice=False),
              axis=alt.Axis(values=[0, 15, 30, 45, 60, 75, 90]))
    colour = alt.Color("telescope:N", title="telescope, side of the pier", scale=SIDE_COLOURS)
    tips = [alt.Tooltip("azimuth_deg:Q", title="azimuth (°)", format=".0f"),
            alt.Tooltip("altitude_deg:Q", title="altitude (°)", format=".0f"),
            alt.Tooltip("across_arcsec:Q", title="across (″)", format=".1f"),
            alt.Tooltip("up_arcsec:Q", title="up (″)", format=".1f"), alt.Tooltip("telescope:N")]
    dashes = alt.StrokeDash("outlier:N", legend=None, scale=alt.Scale(domain=[False, True], range=[[1, 0], [3, 2]]))
    return alt.layer(
        base.mark_rule(strokeWidth=2, opacity=0.9).encode(
            x=x, y=y, x2=alt.X2("tip_azimuth_deg:Q"), y2=alt.Y2("tip_altitude_deg:Q"), color=colour, strokeDash=dashes),
        base.mark_point(filled=True, size=34, opacity=1).encode(
            x=x, y=y, color=colour, tooltip=tips,
            shape=alt.Shape("telescope:N", title="telescope, side of the pier", scale=SIDE_SHAPES)),
        alt.Chart(table[table["outlier"]]).mark_point(shape="cross", angle=45, size=230, color=GREY, strokeWidth=1.5,
                                                      filled=False).encode(x=x, y=y),
    ).properties(height=330, description="Where each sighting missed over the sky: its residual as a stretched arrow.")


def rates_frame(rows: list[dict[str, Any]]) -> pd.DataFrame:
    """Return the implied drift as a table: hour_angle_deg, pier_side, axis, rate."""
    table = pd.DataFrame(rows)
    if table.empty:
        return pd.DataFrame(columns=["hour_angle_deg", "pier_side", "axis", "rate"])
    long = table.melt(["hour_angle_deg", "pier_side"], list(AXES), "axis", "rate")
    return long.assign(axis=long["axis"].map(AXES))


def rates_chart(rows: list[dict[str, Any]]) -> alt.LayerChart:
    """Draw the drift that a model implies against the hour angle, telescope west of the pier before the meridian."""
    dashes = alt.Scale(domain=["RA", "Dec"], range=[[1, 0], [6, 3]])
    lines = alt.Chart(rates_frame(rows)).mark_line().encode(
        x=alt.X("hour_angle_deg:Q", title="hour angle (°), west of the meridian positive",
                scale=alt.Scale(domain=[-75, 75]), axis=alt.Axis(values=HOUR_ANGLES)),
        y=alt.Y("rate:Q", title="drift (arcsec per hour)"), detail=alt.Detail("pier_side:N"),
        color=alt.Color("axis:N", title=None, scale=AXIS_COLOURS),
        strokeDash=alt.StrokeDash("axis:N", title=None, scale=dashes))
    meridian = alt.Chart(pd.DataFrame([{"x": 0}])).mark_rule(color=GREY).encode(x=alt.X("x:Q"))
    return alt.layer(meridian, lines).properties(
        height=230, description="Drift in RA and Dec that the model implies, against the hour angle.")
