"""The pictures of test frames: star shapes over the frame, and what changed over a series."""

from collections.abc import Sequence

import altair as alt
import numpy as np
import pandas as pd

from planner.charts.theme import BLUE, GREY, INK, VERMILION
from planner.measure.frame.field_shape import Tilt
from planner.measure.frame.grade import KEEP, LOOK, REJECT
from planner.measure.frame.night import NightSeeing
from planner.measure.frame.picture import WidthMap
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


def width_frame(drawn: WidthMap) -> pd.DataFrame:
    """Return the cells of a map of widths as a table: x0, x1, y0, y1 in pixels, fwhm_pixels, stars."""
    return pd.DataFrame({"x0": drawn.x0, "x1": drawn.x1, "y0": drawn.y0, "y1": drawn.y1, "fwhm_pixels": drawn.fwhm,
                         "stars": drawn.stars})


def width_chart(drawn: WidthMap, tilt: Tilt | None) -> alt.LayerChart:
    """Draw how wide stars are over a frame, cell by cell in colour and figures, and a line along a tilt."""
    x, y = (alt.Scale(domain=[0, size], nice=False) for size in (drawn.columns, drawn.rows))
    axes = {"x": alt.X("x0:Q", scale=x, title="column (pixels)", axis=alt.Axis(tickCount=4, grid=False)),
            "y": alt.Y("y0:Q", scale=y, title="row (pixels)", axis=alt.Axis(tickCount=4, grid=False))}
    cells = alt.Chart(width_frame(drawn)).mark_rect(stroke="#ffffff", strokeWidth=1, opacity=0.6).encode(
        **axes, x2="x1", y2="y1", color=alt.Color("fwhm_pixels:Q", legend=None, scale=alt.Scale(
            domain=list(drawn.colours), range=[BLUE, "#f2f2f2", VERMILION])),
        tooltip=[alt.Tooltip("fwhm_pixels:Q", title="FWHM (pixels)", format=".2f"), alt.Tooltip("stars:Q")])
    middle = {"x": alt.X("x:Q", scale=x), "y": alt.Y("y:Q", scale=y)}
    layers = [cells, alt.Chart(width_frame(drawn)).transform_calculate(
        x="(datum.x0 + datum.x1) / 2", y="(datum.y0 + datum.y1) / 2").mark_text(color=INK, fontSize=9).encode(
        **middle, text=alt.Text("fwhm_pixels:Q", format=".2f"))]
    if tilt is not None:
        ways = [tilt.angle_deg, tilt.angle_deg + 180][: 1 + tilt.both_sides]
        half = 0.4 * min(drawn.columns, drawn.rows) * np.exp(1j * np.radians(ways))
        ends = pd.DataFrame({"x": drawn.columns / 2, "y": drawn.rows / 2, "x1": drawn.columns / 2 + half.real,
                             "y1": drawn.rows / 2 + half.imag})
        line = alt.Chart(ends).encode(x=alt.X("x1:Q", scale=x), y=alt.Y("y1:Q", scale=y))
        layers += [line.mark_rule(color=INK, strokeWidth=2).encode(x2="x", y2="y"),
                   line.mark_point(color=INK, filled=True, size=60)]
    return alt.layer(*layers).properties(
        width=MAP_WIDTH, height=MAP_WIDTH * drawn.rows / drawn.columns,
        description="How wide stars are over the frame, in pixels; the line points along a tilt.")


def seeing_chart(nights: Sequence[NightSeeing]) -> alt.LayerChart:
    """Draw the seeing of the nights that a site has on record, with their errors."""
    table = pd.DataFrame([{"night": item.night, "seeing": item.value.value, "frames": item.frames,
                           "low": item.value.value - item.error.value, "high": item.value.value + item.error.value}
                          for item in nights])
    base = alt.Chart(table).encode(x=alt.X("night:T", title="night (evening's date)", axis=alt.Axis(
        format="%d %b %Y", labelOverlap=True, tickCount=6)))
    return alt.layer(
        base.mark_rule(color=GREY).encode(
            y=alt.Y("low:Q", title="seeing in the zenith (″)", scale=alt.Scale(zero=False)), y2="high"),
        base.mark_point(color=BLUE, filled=True, size=60, opacity=1).encode(
            y="seeing:Q", tooltip=["night:T", alt.Tooltip("seeing:Q", format=".2f"), "frames:Q"]),
    ).properties(height=200, description="Seeing of the nights on record for this site, with their errors.")


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
        y=alt.Y("value:Q", title=quantity, scale=alt.Scale(zero=False),
                axis=alt.Axis(format="d" if quantity == "stars" else ".3r", tickCount=4)),
        color=alt.Color("grade:N", title=None, scale=GRADES),
        shape=alt.Shape("grade:N", title=None, scale=GRADE_SHAPES),
        tooltip=["file:N", "grade:N", alt.Tooltip("value:Q", title=quantity, format=".4g")],
    ).properties(height=170, description=f"{quantity} of the frames over the series.")
