"""Labels beside a drawing: none covers another, and a thin line leads from each to what it names."""

import altair as alt
import pandas as pd

from planner.charts.theme import GREY, in_lines

LINE_PX = 15


def spread(places: list[float], heights: list[float]) -> list[float]:
    """Return the nearest places, in the same order from below, at which labels of these heights do not overlap."""
    order = sorted(range(len(places)), key=places.__getitem__)
    runs: list[tuple[list[int], float]] = []  # labels that touch, and the middle of the run
    for index in order:
        run, middle = [index], places[index]
        while runs and middle - _half(run, heights) < runs[-1][1] + _half(runs[-1][0], heights):
            before = runs.pop()[0]
            run = before + run
            middle = sum(places[one] for one in run) / len(run)
        runs.append((run, middle))
    found = list(places)
    for run, middle in runs:
        at = middle - _half(run, heights)
        for index in run:
            found[index] = at + heights[index] / 2
            at += heights[index]
    return found


def _half(run: list[int], heights: list[float]) -> float:
    return sum(heights[index] for index in run) / 2


def labels(points: list[tuple[float, float, str]], beside: float, per_px: float, width: int) -> alt.LayerChart:
    """Draw texts at `beside` with lines to their points; `per_px` of the vertical scale, `width` in letters."""
    texts = [in_lines(text, width) for _, _, text in points]
    heights = [LINE_PX * (text.count("|") + 1) * per_px for text in texts]
    at = spread([y for _, y, _ in points], heights)
    table = pd.DataFrame([{"x": x, "y": y, "beside": beside, "at": place, "text": text,
                           "first": place + text.count("|") * (LINE_PX - 2) * per_px / 2}  # of a text's lines
                          for (x, y, _), place, text in zip(points, at, texts, strict=True)],
                         columns=["x", "y", "beside", "at", "text", "first"])
    lines = alt.Chart(table).mark_rule(color=GREY, strokeWidth=0.7).encode(
        x=alt.X("x:Q"), y=alt.Y("y:Q"), x2=alt.X2("beside:Q"), y2=alt.Y2("at:Q"))
    words = alt.Chart(table).mark_text(align="left", baseline="middle", dx=4, lineBreak="|", lineHeight=LINE_PX - 2,
                                       fontSize=12, color="#31333f").encode(
                                           alt.X("beside:Q"), alt.Y("first:Q"), alt.Text("text:N"))
    return alt.layer(lines, words)
