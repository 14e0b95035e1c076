"""The pictures of one advice: the speed curve, the stars, the error budget, and a quantity step by step."""

import math
from collections.abc import Mapping
from typing import Any

import altair as alt
import pandas as pd
from astropy import units as u

from planner.charts.theme import (
    AXIS_COLOURS,
    BLUE,
    GREY,
    GUIDED,
    LINES,
    METHOD_COLOURS,
    METHOD_DASHES,
    UNGUIDED,
    VERMILION,
    in_lines,
)
from planner.exposure.guide_need import GuideNeed
from planner.exposure.reasons import percent
from planner.exposure.sub_exposure import SubExposure
from planner.exposure.uncertainty import Certainty
from planner.rig.choices import Way
from planner.session.advice.star_strip import StarPicture
from planner.session.advice.text import AS_IT_STANDS, length_text
from planner.session.advice.waterfall import Waterfall
from planner.signs import minus

AXES = {"ra": "RA", "dec": "Dec"}
PICTURE_SIDE = 110  # screen pixels
SMALLEST_SHOWN = 0.005  # arcsec
ROW_HEIGHT, AXIS_HEIGHT = 36, 60  # screen pixels
LABEL_WIDTH, LINE_HEIGHT = 12, 15  # letters in a line of a label, so that no narrow picture cuts it; screen pixels
NONE_KEPT = 0.005  # of the subs: less rounds to nothing
LADDER_TICKS = [1, 3, 10, 30, 60, 120, 300, 600, 1200]
STEP_HEIGHT, STEPS_AXIS = 26, 50  # screen pixels
RESULT = "what comes of it"


def speed_frame(need: GuideNeed) -> pd.DataFrame:
    """Return the speed curves as a table: method, exposure_s, speed, kept."""
    subs = {UNGUIDED: need.unguided, GUIDED: need.guided}
    frames = [pd.DataFrame({"method": method, "exposure_s": sub.curve.exposure.to_value(u.s),
                            "speed": sub.curve.speed, "kept": sub.curve.kept})
              for method, sub in subs.items() if sub is not None]
    return pd.concat(frames, ignore_index=True)


def speed_chart(need: GuideNeed, safer: Certainty | None = None) -> alt.LayerChart:
    """Draw speed against sub length, with each method's plateau and recommended length.

    `safer`: how sure the verdict is, where the headline names the length that is best on average.
    """
    subs: dict[Way, SubExposure | None] = {"unguided": need.unguided, "guided": need.guided}
    marks = pd.DataFrame([
        {"method": method, "from": sub.shortest.to_value(u.s), "to": sub.longest.to_value(u.s),
         "best": sub.recommended.to_value(u.s), "speed": sub.speed,
         "label": length_text(sub)}
        for method, sub in subs.items() if sub is not None and sub.speed > 0])
    x = alt.X("exposure_s:Q", title="length of one sub-exposure (s)",
              scale=alt.Scale(type="log", domain=[1, 1800], nice=False), axis=alt.Axis(values=LADDER_TICKS, format="d"))
    y = alt.Y("speed:Q", title="speed (1: perfect camera and mount)", scale=alt.Scale(domain=[0, 1]))
    shown = [method for method, sub in subs.items() if sub is not None]
    legend = alt.Legend(values=shown, symbolType="stroke", symbolOpacity=1, symbolStrokeWidth=3)
    colour = alt.Color("method:N", scale=METHOD_COLOURS, title=None, legend=legend)
    line = alt.Chart(speed_frame(need)).mark_line().encode(
        x=x, y=y, color=colour, strokeDash=alt.StrokeDash("method:N", scale=METHOD_DASHES, title=None, legend=legend),
        tooltip=[alt.Tooltip("method:N"), alt.Tooltip("exposure_s:Q", title="length (s)", format=".0f"),
                 alt.Tooltip("speed:Q", format=".2f"), alt.Tooltip("kept:Q", title="kept", format=".0%")])
    layers: list[alt.Chart] = [line]
    if not marks.empty:
        known = alt.Chart(marks)
        layers = [
            known.mark_rect(opacity=0.13).encode(x=alt.X("from:Q"), x2=alt.X2("to:Q"), color=colour), line,
            known.mark_point(size=90, filled=True, opacity=1).encode(alt.X("best:Q"), alt.Y("speed:Q"), colour),
        ]
        if safer is None:
            layers.append(known.mark_text(dy=-14, fontSize=13).encode(
                alt.X("best:Q"), alt.Y("speed:Q"), colour, alt.Text("label:N")))
    if safer is not None:
        layers += _labels_beside(subs, safer, colour)
    return alt.layer(*layers).properties(height=300, description=(
        "Speed against the length of one sub-exposure, unguided and guided. Bands mark the lengths with at least 95 % "
        "of the best speed, dots the recommended ones."))


def _labels_beside(subs: Mapping[Way, SubExposure | None], safer: Certainty, colour: alt.Color) -> list[alt.Chart]:
    """Return a diamond at the headline's length, and the labels of all lengths, those of its way on either side."""
    x, y, layers = alt.X("best:Q"), alt.Y("speed:Q"), []
    for method, sub in subs.items():
        if sub is None or not sub.speed > 0:
            continue
        own = method == safer.method
        shorter = bool(safer.sub_exposure < sub.recommended)
        row = {"method": method, "best": sub.recommended.to_value(u.s), "speed": sub.speed,
               "label": in_lines(f"{length_text(sub)} {AS_IT_STANDS}", LABEL_WIDTH) if own else length_text(sub)}
        layers.append(_label(row, "center" if not own else "left" if shorter else "right", colour))
        if own:
            length = safer.sub_exposure.to_value(u.s)
            at = sub.ladder.exposure.to_value(u.s).tolist().index(length)
            row = {"method": method, "best": length, "speed": float(sub.ladder.speed[at]), "label": f"{length:g} s"}
            layers += [_label(row, "right" if shorter else "left", colour, fontWeight="bold"),
                       alt.Chart(pd.DataFrame([row])).mark_point(
                           size=140, filled=True, opacity=1, shape="diamond").encode(x, y, colour)]
    return layers


def _label(row: Mapping[str, Any], align: str, colour: alt.Color, **more: str) -> alt.Chart:
    """Return one label above a length, and to one side of it."""
    return alt.Chart(pd.DataFrame([row])).mark_text(
        dy=-14 - LINE_HEIGHT * row["label"].count("|"), dx={"left": 4, "right": -4}.get(align, 0), align=align,
        fontSize=13, lineBreak="|", lineHeight=LINE_HEIGHT, **more).encode(
        alt.X("best:Q"), alt.Y("speed:Q"), colour, alt.Text("label:N"))


def tried_chart(now: GuideNeed, tried: GuideNeed) -> alt.LayerChart:
    """Draw the speed curves as they are, thin, and as tried, bold."""
    tables = [speed_frame(need).assign(which=which) for which, need in (("now", now), ("what if", tried))]
    table = pd.concat(tables, ignore_index=True)
    best = pd.DataFrame([
        {"method": method, "which": which, "exposure_s": sub.recommended.to_value(u.s), "speed": sub.speed}
        for which, need in (("now", now), ("what if", tried))
        for method, sub in ((UNGUIDED, need.unguided), (GUIDED, need.guided)) if sub is not None and sub.speed > 0])
    x = alt.X("exposure_s:Q", title="length of one sub-exposure (s)",
              scale=alt.Scale(type="log", domain=[1, 1800], nice=False), axis=alt.Axis(values=LADDER_TICKS, format="d"))
    y = alt.Y("speed:Q", title="speed (1: perfect)", scale=alt.Scale(domain=[0, 1]))
    colour = alt.Color("method:N", scale=METHOD_COLOURS, title=None, legend=alt.Legend(symbolType="stroke"))
    which = alt.StrokeWidth("which:O", title=None, scale=alt.Scale(domain=["now", "what if"], range=[1, 4]),
                            legend=alt.Legend(symbolType="stroke"))
    dash = alt.StrokeDash("method:N", scale=METHOD_DASHES, title=None)
    lines = alt.Chart(table).mark_line().encode(x=x, y=y, color=colour, strokeWidth=which, strokeDash=dash)
    layers: list[alt.Chart] = [lines]
    if not best.empty:
        tooltip = [alt.Tooltip("which:N"), alt.Tooltip("exposure_s:Q", title="length (s)")]
        for name, filled in (("now", False), ("what if", True)):
            layers.append(alt.Chart(best[best["which"] == name]).mark_point(filled=filled, size=90, opacity=1).encode(
                x=x, y=y, color=colour, tooltip=tooltip))
    return alt.layer(*layers).properties(height=230, description=(
        "Speed against the length of one sub-exposure as it is, thin with open dots, and with the figures tried, "
        "bold with filled ones."))


def star_frame(picture: StarPicture) -> pd.DataFrame:
    """Return one picture as a table of pixels: east, north (pixels from the middle), light (share of the star's)."""
    side = picture.share.shape[0]
    places = range(-(side // 2), side // 2 + 1)
    return pd.DataFrame([(east, north, picture.share[row, column])
                         for row, north in enumerate(places) for column, east in enumerate(places)],
                        columns=["east", "north", "light"])


def star_chart(picture: StarPicture, brightest: float) -> alt.Chart:
    """Draw one star, north up and east left, as on the sky; `brightest` is the share of light that shows white."""
    step = max(PICTURE_SIDE // picture.share.shape[0], 2)  # whole screen pixels, so that no seam shows
    whole = alt.Scale(paddingInner=0, paddingOuter=0)
    kept = f"{percent(picture.kept)} of subs kept" if picture.kept >= NONE_KEPT else "no sub kept"
    title = alt.TitleParams(
        f"{picture.exposure.to_value(u.s):g} s", fontSize=12, subtitleFontSize=12, subtitleColor=GREY, anchor="middle",
        subtitle=[*filter(None, [picture.role]),
                  f"{picture.fwhm.value:.1f}″, ratio {1 - picture.elongation:.2f}", kept])
    return alt.Chart(star_frame(picture), title=title).mark_rect(strokeWidth=0).encode(
        x=alt.X("east:O", sort="descending", axis=None, scale=whole),
        y=alt.Y("north:O", sort="descending", axis=None, scale=whole),
        color=alt.Color("light:Q", legend=None,
                        scale=alt.Scale(type="sqrt", domain=[0, brightest], range="heatmap")),
    ).properties(width=alt.Step(step), height=alt.Step(step), autosize=alt.AutoSizeParams(type="pad"),
                 description=f"A star of {picture.exposure.to_value(u.s):g} s {picture.method}, north up, east left: "
                             f"{kept}.")


def budget_frame(need: GuideNeed) -> pd.DataFrame:
    """Return the error budget of the recommended way as a table: term, axis, rms_arcsec."""
    return pd.DataFrame([{"term": term.term, "axis": AXES[term.axis], "rms_arcsec": term.rms.to_value(u.arcsec)}
                         for term in need.better_budget])


def budget_chart(need: GuideNeed) -> alt.Chart:
    """Draw the error budget as bars, the sums first, then the causes from large to small, RA above Dec."""
    table = budget_frame(need)
    table = table[table.groupby("term")["rms_arcsec"].transform("max") >= SMALLEST_SHOWN]
    largest = table.groupby("term")["rms_arcsec"].max().sort_values(ascending=False).index.tolist()
    order = sorted(largest, key=lambda term: not term.startswith("total"))
    table, order = table.assign(term=table["term"].map(in_lines)), [in_lines(term) for term in order]
    return alt.Chart(table).mark_bar().encode(
        y=alt.Y("term:N", sort=order, title=None, axis=alt.Axis(labelLimit=190, labelExpr=LINES)),
        yOffset=alt.YOffset("axis:N", sort=["RA", "Dec"]),
        x=alt.X("rms_arcsec:Q", title="rms in one sub-exposure (″)", axis=alt.Axis(tickCount=4)),
        color=alt.Color("axis:N", title=None, sort=["RA", "Dec"],
                        scale=AXIS_COLOURS),
        tooltip=[alt.Tooltip("term:N"), alt.Tooltip("axis:N"), alt.Tooltip("rms_arcsec:Q", format=".2f")],
    ).properties(height=ROW_HEIGHT * len(order) + AXIS_HEIGHT,
                 description="What moves the star within one sub-exposure, by cause: rms in RA and in Dec.")


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
    last = float(found.levels[-1].value)
    digits = max(digits, 1 - math.floor(math.log10(last))) if last > 0 else digits  # two figures of the result
    table["label"] = [f"{row.after:.{digits}f}" if row.whole else _signed(row.change, digits)
                      for row in table.itertuples()]
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
    return alt.layer(bars, texts).properties(height=STEP_HEIGHT * len(table) + STEPS_AXIS, description=says)


def _signed(change: float, digits: int) -> str:
    """Return a change with its sign; one that rounds to nothing as 0."""
    text = f"{change:+.{digits}f}"
    return "0" if float(text) == 0 else minus(text)
