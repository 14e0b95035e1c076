"""The pictures of what was measured: test frames, drift logs, pointing and the polar axis.

Star shapes over the frame and a series; where a star went and the evidence for periodic terms; where pointing misses
and the drift that it implies; how far the polar axis is off.
"""

from collections.abc import Sequence

import altair as alt
import numpy as np
import pandas as pd
from astropy import units as u

from planner.charts.theme import AXIS_COLOURS, BLUE, EAST_HUE, GREY, INK, PALE, VERMILION, WEST_HUE
from planner.fields import document
from planner.measure.drift.model import AxisReport
from planner.measure.drift.spectrum import DriftSpectrum
from planner.measure.frame.field_shape import Tilt
from planner.measure.frame.grade import KEEP, LOOK, REJECT
from planner.measure.frame.night import NightSeeing
from planner.measure.frame.picture import WidthMap
from planner.measure.frame.report import Report
from planner.measure.pointing.drift import PathDrift
from planner.measure.pointing.residual_plan import ResidualPlan
from planner.measure.polar.alignment import PolarAlignment
from planner.measure.stars.outlines import StarOutlines

MAP_WIDTH = 290  # screen pixels: fits a telephone, where a map may not be squeezed one way
GRADES = alt.Scale(domain=[KEEP, LOOK, REJECT], range=[BLUE, GREY, VERMILION])
GRADE_SHAPES = alt.Scale(domain=[KEEP, LOOK, REJECT], range=["circle", "triangle", "cross"])
MEASURED, LEFT = "as measured", "after the terms found"
SPECTRUM_LINES = alt.Scale(domain=[MEASURED, LEFT], range=[BLUE, GREY])
SPECTRUM_DASHES = alt.Scale(domain=[MEASURED, LEFT], range=[[1, 0], [3, 3]])
SIDES = ["east", "west"]
SIDE_COLOURS = alt.Scale(domain=SIDES, range=[EAST_HUE, WEST_HUE])
SIDE_SHAPES = alt.Scale(domain=SIDES, range=["square", "circle"])
QUARTERS = "{'0': 'N', '90': 'E', '180': 'S', '270': 'W', '360': 'N'}[datum.value]"
HOUR_ANGLES = list(range(-75, 76, 15))
AXES = {"ra_arcsec_per_h": "RA", "dec_arcsec_per_h": "Dec"}
UP, SIDE = "up / down", "east / west"
ENDS = {"altitude": ("too low", "too high"), "azimuth": ("west", "east")}


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


def drift_frame(axis: AxisReport) -> pd.DataFrame:
    """Return one axis as a table: minutes, place_arcsec, fit_arcsec, left_arcsec."""
    return pd.DataFrame(axis.used_rows)


def drift_chart(axis: AxisReport, name: str, colour: str = VERMILION) -> alt.LayerChart:
    """Draw where the star went along one axis, row by row, and the fitted drift with its terms."""
    base = alt.Chart(drift_frame(axis))
    x = alt.X("minutes:Q", title="time (minutes)")
    rows = base.mark_circle(size=11, color=GREY, opacity=0.55).encode(
        x=x, y=alt.Y("place_arcsec:Q", title=f"{name} (arcsec)"),
        tooltip=[alt.Tooltip("minutes:Q", format=".2f"), alt.Tooltip("place_arcsec:Q", title="star (″)", format=".2f"),
                 alt.Tooltip("fit_arcsec:Q", title="fit (″)", format=".2f")])
    fit = base.mark_line(color=colour, strokeWidth=2).encode(x=x, y=alt.Y("fit_arcsec:Q"))
    return alt.layer(rows, fit).properties(
        height=190, description=f"The star's place in {name} over time, and the drift and periods fitted to it.")


def left_chart(axis: AxisReport, name: str) -> alt.LayerChart:
    """Draw what the fit leaves along one axis: wander and jitter."""
    base = alt.Chart(drift_frame(axis))
    zero = alt.Chart(pd.DataFrame([{"zero": 0}])).mark_rule(color=GREY).encode(y=alt.Y("zero:Q"))
    rows = base.mark_line(color=GREY, strokeWidth=1).encode(
        x=alt.X("minutes:Q", title="time (minutes)"), y=alt.Y("left_arcsec:Q", title=f"{name} left (″)"))
    return alt.layer(rows, zero).properties(
        height=110, description=f"What the fit leaves in {name} over time.")


def spectrum_frame(spectrum: DriftSpectrum) -> pd.DataFrame:
    """Return the spectrum as a table: curve, period_s, evidence."""
    return pd.concat([pd.DataFrame({"curve": curve, "period_s": spectrum.period_s, "evidence": values})
                      for curve, values in ((MEASURED, spectrum.evidence), (LEFT, spectrum.left))], ignore_index=True)


def spectrum_chart(spectrum: DriftSpectrum, axis: AxisReport) -> alt.LayerChart:
    """Draw evidence against period with the level that noise hardly reaches; found terms are marked below."""
    x = alt.X("period_s:Q", title="period (s)", scale=alt.Scale(type="log", nice=False),
              axis=alt.Axis(format="~g", tickCount=6))
    y = alt.Y("evidence:Q", title="evidence for a term", scale=alt.Scale(type="sqrt"), axis=alt.Axis(tickCount=5))
    found = pd.DataFrame([{"period_s": term.period.to_value("s"), "label": f"{term.period.to_value('s'):.0f} s"}
                          for term in axis.periodic], columns=["period_s", "label"])
    level = pd.DataFrame([{"level": spectrum.level}])
    marks = [] if found.empty else [
        alt.Chart(found).mark_rule(color=PALE, strokeWidth=5).encode(x=x),
        alt.Chart(found).mark_text(dy=-5, fontSize=12, baseline="bottom").encode(
            alt.Text("label:N"), x=x, y=alt.value(0))]
    return alt.layer(
        *marks[:1],
        alt.Chart(level).mark_rule(color=VERMILION, strokeDash=[6, 3], strokeWidth=1.8).encode(y=alt.Y("level:Q")),
        alt.Chart(spectrum_frame(spectrum)).mark_line(strokeWidth=1.6).encode(
            x=x, y=y, color=alt.Color("curve:N", title=None, scale=SPECTRUM_LINES),
            strokeDash=alt.StrokeDash("curve:N", title=None, scale=SPECTRUM_DASHES)),
        *marks[1:],
    ).properties(height=230, description=(
        "Evidence for a periodic term by period, as measured and after the terms found, and the level that noise "
        "hardly reaches.")).configure_legend(orient="bottom")


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


def rates_frame(path: PathDrift) -> pd.DataFrame:
    """Return the implied drift as a table: hour_angle_deg, pier_side, axis, rate."""
    table = pd.DataFrame(document(path)["drift"])
    if table.empty:
        return pd.DataFrame(columns=["hour_angle_deg", "pier_side", "axis", "rate"])
    long = table.melt(["hour_angle_deg", "pier_side"], list(AXES), "axis", "rate")
    return long.assign(axis=long["axis"].map(AXES))


def rates_chart(path: PathDrift) -> alt.LayerChart:
    """Draw the drift that a model implies against the hour angle, telescope west of the pier before the meridian."""
    dashes = alt.Scale(domain=["RA", "Dec"], range=[[1, 0], [6, 3]])
    lines = alt.Chart(rates_frame(path)).mark_line().encode(
        x=alt.X("hour_angle_deg:Q", title="hour angle (°), west of the meridian positive",
                scale=alt.Scale(domain=[-75, 75]), axis=alt.Axis(values=HOUR_ANGLES)),
        y=alt.Y("rate:Q", title="drift (arcsec per hour)"), detail=alt.Detail("pier_side:N"),
        color=alt.Color("axis:N", title=None, scale=AXIS_COLOURS),
        strokeDash=alt.StrokeDash("axis:N", title=None, scale=dashes))
    meridian = alt.Chart(pd.DataFrame([{"x": 0}])).mark_rule(color=GREY).encode(x=alt.X("x:Q"))
    return alt.layer(meridian, lines).properties(
        height=230, description="Drift in RA and Dec that the model implies, against the hour angle.")


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
