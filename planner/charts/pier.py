"""The pictures of the pier: tube and weights, the shape in which the column swings, concrete by age."""

from typing import Any

import altair as alt
import pandas as pd
from astropy import units as u

from planner.charts.labels import labels
from planner.charts.theme import BLUE, GREY, PALE, VERMILION
from planner.pier import Assembly, BalancePlan, ColumnResponse, ConcreteAge

NOW, AFTER = "now", "after the moves"
BALANCE_PX = 560
WEIGHT_MM = 22.0  # half of the drawn width of a weight of 1 kg; its true one is not asked for
SOFT_FOOT, RIGID_FOOT = "as it stands", "on a rigid foot"


def balance_frame(assembly: Assembly, plan: BalancePlan) -> pd.DataFrame:
    """Return every mass as a row: when, kind, name, mass_kg, outward_mm (tube side positive), along_mm, and half of
    what it takes outwards and along the tube, deep_mm and wide_mm; 0 where that is not given.
    """
    rows = []
    for when, state in ((NOW, assembly), (AFTER, plan.moved)):
        rows += [(when, "tube", part.name, part.mass.value, (state.saddle_distance + part.height).value,
                  part.along.value, part.width.value / 2, part.length.value / 2) for part in state.parts]
        rows += [(when, "counterweight", weight.name, weight.mass.value, -weight.position.value, 0.0,
                  weight.thickness.value / 2, WEIGHT_MM * weight.mass.value**0.5) for weight in state.counterweights]
    columns = ["when", "kind", "name", "mass_kg", "outward_mm", "along_mm", "deep_mm", "wide_mm"]
    return pd.DataFrame(rows, columns=columns)


def balance_chart(assembly: Assembly, plan: BalancePlan) -> alt.LayerChart:
    """Draw tube and weights about the axes, with names and masses; what the moves change is drawn dashed."""
    table = balance_frame(assembly, plan)
    for low, high, middle, half in (("x", "x2", "along_mm", "wide_mm"), ("y", "y2", "outward_mm", "deep_mm")):
        table[low], table[high] = table[middle] - table[half], table[middle] + table[half]
    now, after = table[table["when"] == NOW], table[table["when"] == AFTER]
    places = ["kind", "name", "mass_kg", "outward_mm", "along_mm"]
    moved = after[~after[places].apply(tuple, axis=1).isin(set(now[places].itertuples(index=False, name=None)))]
    low, high = min(-60.0, table["x"].min()), max(60.0, table["x2"].max())
    bottom, top = -assembly.bar.end.value - 30, table["y2"].max() + 40
    per_px = (top - bottom) / BALANCE_PX
    x = alt.X("x:Q", title="along the tube (mm), sky to the right", axis=alt.Axis(tickCount=5, grid=False),
              scale=alt.Scale(domain=[low - 20, high + 1.1 * (high - low)], nice=False))
    y = alt.Y("y:Q", title="from the right-ascension axis (mm)", axis=alt.Axis(grid=False),
              scale=alt.Scale(domain=[bottom, top], nice=False))
    names = labels([(row.along_mm, row.outward_mm, f"{row.name}, {row.mass_kg:.3g} kg")
                    for row in now.itertuples(index=False)], high + 0.12 * (high - low), per_px, 26)
    layers = [*_mount(assembly, low, high, x, y), *_masses(now, x, y, {"opacity": 0.55}),
              *_masses(moved, x, y, {"filled": False, "strokeDash": [4, 3], "strokeWidth": 1.8}),
              _centre(plan), names]
    return alt.layer(*layers).properties(
        height=BALANCE_PX, description="Tube and counterweights about the axes, with their masses.")


def _mount(assembly: Assembly, low: float, high: float, x: alt.X, y: alt.Y) -> list[alt.Chart]:
    """Return the axes, the bar and the saddle."""
    bar = pd.DataFrame([{"x": 0.0, "y": -assembly.bar.end.value, "y2": assembly.saddle_distance.value}])
    saddle = pd.DataFrame([{"x": max(low, -120.0), "x2": min(high, 120.0), "y": assembly.saddle_distance.value}])
    axis = pd.DataFrame([{"x": low, "x2": high, "y": 0.0, "text": "right-ascension axis"}])
    return [
        alt.Chart(bar).mark_rule(strokeWidth=7, color=PALE).encode(x=x, y=y, y2=alt.Y2("y2:Q")),
        alt.Chart(saddle).mark_rule(strokeWidth=3, color=GREY).encode(x=x, x2=alt.X2("x2:Q"), y=y),
        alt.Chart(axis).mark_rule(color=GREY, strokeDash=[4, 3]).encode(x=x, x2=alt.X2("x2:Q"), y=y),
        alt.Chart(axis).mark_text(align="left", dy=9, fontSize=11, color=GREY).encode(x, y, alt.Text("text:N")),
    ]


def _masses(table: pd.DataFrame, x: alt.X, y: alt.Y, style: dict[str, Any]) -> list[alt.Chart]:
    """Return outlines, and a point at each centre that is larger for more mass."""
    colour = alt.Color("kind:N", legend=None, scale=alt.Scale(domain=["tube", "counterweight"],
                                                              range=[BLUE, VERMILION]))
    size = alt.Size("mass_kg:Q", legend=None, scale=alt.Scale(range=[30, 700], zero=True))
    tips = [alt.Tooltip("name:N"), alt.Tooltip("mass_kg:Q", title="mass (kg)", format=".2f"),
            alt.Tooltip("outward_mm:Q", title="from the axis (mm)", format=".0f"),
            alt.Tooltip("along_mm:Q", title="along the tube (mm)", format=".0f"), alt.Tooltip("when:N")]
    line = {key: value for key, value in style.items() if key != "filled"}
    whole = table[(table["wide_mm"] > 0) & (table["deep_mm"] > 0)]
    loose = table[(table["wide_mm"] == 0) | (table["deep_mm"] == 0)]
    inside = {"fillOpacity": 0.25 if style.get("filled", True) else 0.0, "strokeWidth": 1.2}
    boxes = alt.Chart(whole).mark_rect(**{**inside, **line}).encode(
        x=x, x2=alt.X2("x2:Q"), y=y, y2=alt.Y2("y2:Q"), color=colour, stroke=colour, tooltip=tips)
    points = alt.Chart(loose).mark_point(**{"filled": True, **style}).encode(
        x=alt.X("along_mm:Q"), y=alt.Y("outward_mm:Q"), color=colour, size=size, tooltip=tips)
    return [chart for chart, rows in ((boxes, whole), (points, loose)) if len(rows)]


def _centre(plan: BalancePlan) -> alt.Chart:
    centre = pd.DataFrame([{"along": plan.before.centre_along.value, "outward": plan.before.centre_distance.value,
                            "label": "centre of the tube's mass"}])
    return alt.Chart(centre).mark_point(shape="cross", size=110, color="black", filled=True, angle=45).encode(
        x=alt.X("along:Q"), y=alt.Y("outward:Q"), tooltip=alt.Tooltip("label:N"))


def mode_frame(response: ColumnResponse) -> pd.DataFrame:
    """Return the first mode with the foot as it is and rigid: foot, height_m, shape."""
    frames = [pd.DataFrame({"foot": name, "height_m": swing.height.to_value(u.m), "shape": swing.shape})
              for name, swing in ((SOFT_FOOT, response.vibration), (RIGID_FOOT, response.rigid_foot))]
    return pd.concat(frames, ignore_index=True)


def mode_chart(response: ColumnResponse) -> alt.LayerChart:
    """Draw how the column swings, enlarged, its foot below and its top above."""
    colours = alt.Scale(domain=[SOFT_FOOT, RIGID_FOOT], range=[VERMILION, BLUE])
    dashes = alt.Scale(domain=[SOFT_FOOT, RIGID_FOOT], range=[[1, 0], [6, 3]])
    top = response.vibration.height[-1].to_value(u.m)
    line = alt.Chart(mode_frame(response)).mark_line().encode(
        x=alt.X("shape:Q", title="sideways, top = 1 (much enlarged)", scale=alt.Scale(domain=[-0.2, 1.2]),
                axis=alt.Axis(tickCount=6)),
        y=alt.Y("height_m:Q", title="height above the foot (m)", scale=alt.Scale(domain=[0, top])),
        order=alt.Order("height_m:Q"), color=alt.Color("foot:N", title=None, scale=colours),
        strokeDash=alt.StrokeDash("foot:N", title=None, scale=dashes),
        tooltip=[alt.Tooltip("foot:N"), alt.Tooltip("height_m:Q", title="height (m)", format=".2f"),
                 alt.Tooltip("shape:Q", title="sideways", format=".2f")])
    rest = alt.Chart(pd.DataFrame([{"at": 0}])).mark_rule(color=GREY, strokeDash=[2, 3]).encode(x=alt.X("at:Q"))
    return alt.layer(rest, line).properties(
        height=340, description="How the column sways in its first natural frequency, its foot rigid and on soil.")


def strength_chart(age: ConcreteAge) -> alt.LayerChart:
    """Draw the strength of concrete by age, with the day of the bolts."""
    table = pd.DataFrame({"age_d": age.age.to_value(u.day), "share": age.strength_share})
    day = age.bolt_day
    bolts = pd.DataFrame([] if day is None else [{"age_d": day, "share": age.bolt_share, "label": f"bolts: day {day}"}],
                         columns=["age_d", "share", "label"])
    x = alt.X("age_d:Q", title="age (days)", scale=alt.Scale(type="log", nice=False),
              axis=alt.Axis(values=[1, 2, 3, 7, 14, 28, 56, 90], format="d"))
    y = alt.Y("share:Q", title="strength (of that at 28 days)", axis=alt.Axis(format="%"))
    line = alt.Chart(table).mark_line(color=BLUE, point=True).encode(
        x=x, y=y, tooltip=[alt.Tooltip("age_d:Q", title="age (days)"), alt.Tooltip("share:Q", format=".0%")])
    point = alt.Chart(bolts).mark_point(filled=True, size=110, color=VERMILION, opacity=1).encode(x=x, y=y)
    text = alt.Chart(bolts).mark_text(align="left", dx=10, dy=6, fontSize=13, color=VERMILION).encode(
        x=x, y=y, text=alt.Text("label:N"))
    return alt.layer(line, point, text).properties(
        height=280, description="Strength of the concrete over its age, and the day the bolts may be loaded.")
