"""The pictures of a drift log: where the star went, what explains it, and the evidence for periodic terms."""

import altair as alt
import pandas as pd

from planner.charts.theme import BLUE, GREY, PALE, VERMILION
from planner.measure.drift.document import drift_rows
from planner.measure.drift.model import AxisReport
from planner.measure.drift.spectrum import DriftSpectrum

MEASURED, LEFT = "as measured", "after the terms found"
SPECTRUM_LINES = alt.Scale(domain=[MEASURED, LEFT], range=[BLUE, GREY])
SPECTRUM_DASHES = alt.Scale(domain=[MEASURED, LEFT], range=[[1, 0], [3, 3]])


def drift_frame(axis: AxisReport) -> pd.DataFrame:
    """Return one axis as a table: minutes, place_arcsec, fit_arcsec, left_arcsec."""
    return pd.DataFrame(drift_rows(axis))


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
