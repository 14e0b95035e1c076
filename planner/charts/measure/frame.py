"""The pictures of test frames: star shapes over the frame, and what changed over a series."""

import altair as alt
import pandas as pd

from planner.charts.theme import BLUE, GREY, VERMILION
from planner.measure.frame.grade import KEEP, LOOK, REJECT
from planner.measure.frame.report import Report
from planner.measure.stars.outlines import StarOutlines

MAP_WIDTH = 290  # screen pixels: fits a telephone, where a map may not be squeezed one way
GRADES = alt.Scale(domain=[KEEP, LOOK, REJECT], range=[BLUE, GREY, VERMILION])
GRADE_SHAPES = alt.Scale(domain=[KEEP, LOOK, REJECT], range=["circle", "triangle", "cross"])


def strokes_frame(drawn: StarOutlines) -> pd.DataFrame:
    """Return one stroke per star as a table: x0, y0, x1, y1 in pixels."""
    return pd.DataFrame({name: getattr(drawn, name) for name in ("x0", "y0", "x1", "y1")})


def outlines_frame(drawn: StarOutlines) -> pd.DataFrame:
    """Return the outlines of mean stars as a table: part, corner, x, y, fwhm_pixels, elongation."""
    parts, corners = drawn.outline_x.shape
    return pd.DataFrame([
        (part, corner, drawn.outline_x[part, corner], drawn.outline_y[part, corner], drawn.outline_fwhm[part],
         drawn.outline_elongation[part]) for part in range(parts) for corner in range(corners)],
        columns=["part", "corner", "x", "y", "fwhm_pixels", "elongation"])


def shape_map_chart(drawn: StarOutlines) -> alt.LayerChart:
    """Draw the frame with the mean star of each ninth as an outline, and a stroke for each single star."""
    x = alt.Scale(domain=[0, drawn.columns], nice=False)
    y = alt.Scale(domain=[0, drawn.rows], nice=False)
    axes = {"x": alt.X("x:Q", scale=x, title="column (pixels)", axis=alt.Axis(tickCount=4)),
            "y": alt.Y("y:Q", scale=y, title="row (pixels)", axis=alt.Axis(tickCount=4))}
    strokes = alt.Chart(strokes_frame(drawn)).mark_rule(color=GREY, strokeWidth=1.3, opacity=0.6, clip=True).encode(
        x=alt.X("x0:Q", scale=x), y=alt.Y("y0:Q", scale=y), x2=alt.X2("x1:Q"), y2=alt.Y2("y1:Q"))
    outlines = alt.Chart(outlines_frame(drawn)).mark_line(
        color=VERMILION, strokeWidth=2.4, fill=VERMILION, fillOpacity=0.16, clip=True).encode(
        **axes, detail=alt.Detail("part:N"), order=alt.Order("corner:Q"),
        tooltip=[alt.Tooltip("fwhm_pixels:Q", title="FWHM (pixels)", format=".2f"),
                 alt.Tooltip("elongation:Q", format=".3f")])
    frame = alt.Chart(pd.DataFrame([{"x": 0, "y": 0, "x2": drawn.columns, "y2": drawn.rows}])).mark_rect(
        fillOpacity=0, stroke=GREY, strokeWidth=1).encode(
            alt.X("x:Q", scale=x), alt.Y("y:Q", scale=y), alt.X2("x2:Q"), alt.Y2("y2:Q"))
    return alt.layer(frame, strokes, outlines).properties(
        width=MAP_WIDTH, height=MAP_WIDTH * drawn.rows / drawn.columns,
        description="Star shapes over the frame: the mean star of each ninth, and a stroke for each single star.")


def series_frame(report: Report) -> pd.DataFrame:
    """Return a series as a table: place (from 1), file, grade, quantity, value."""
    rows = []
    for place, item in enumerate(report.frames, start=1):
        values = {"FWHM (pixels)": item.field.fwhm.value, "elongation": item.field.elongation,
                  "stars": item.field.found}
        rows += [(place, item.path.name, item.grade.verdict, name, value) for name, value in values.items()]
    return pd.DataFrame(rows, columns=["place", "file", "grade", "quantity", "value"])


def series_chart(report: Report, quantity: str) -> alt.Chart:
    """Draw one quantity of `series_frame` over the series, each frame marked with its grade."""
    table = series_frame(report)
    shown = table[table["quantity"] == quantity].dropna()
    return alt.Chart(shown).mark_point(size=70, filled=True, opacity=0.9).encode(
        x=alt.X("place:Q", title="frame, in the order given", axis=alt.Axis(format="d", tickMinStep=1)),
        y=alt.Y("value:Q", title=quantity, scale=alt.Scale(zero=False)),
        color=alt.Color("grade:N", title=None, scale=GRADES),
        shape=alt.Shape("grade:N", title=None, scale=GRADE_SHAPES),
        tooltip=["file:N", "grade:N", alt.Tooltip("value:Q", title=quantity, format=".4g")],
    ).properties(height=170, description=f"{quantity} of the frames over the series.")
