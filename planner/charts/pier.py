"""The pictures of the pier: tube and weights, the 12 V tree, the column to scale, how it swings, concrete by age."""

from typing import Any

import altair as alt
import pandas as pd
from astropy import units as u

from planner.charts.labels import labels
from planner.charts.theme import BLUE, GREY, INK, PALE, VERMILION
from planner.pier import (
    Assembly,
    BalancePlan,
    Column,
    ColumnResponse,
    ConcreteAge,
    Footing,
    PowerTree,
    TopLoads,
    Wiring,
)

NOW, AFTER = "now", "after the moves"
BALANCE_PX = 560
WEIGHT_MM = 22.0  # half of the drawn width of a weight of 1 kg; its true one is not asked for
SOFT_FOOT, RIGID_FOOT = "as it stands", "on a rigid foot"
TALL_PX, BROAD_PX, LABELS_PX, LETTERS = 400, 140, 195, 27
Box = tuple[float, float, float, float, str]  # x from, x to, y from, y to [m], colour
SOIL, METAL, STONE = "#efe9dd", "#8c99a5", "#cfd4d9"
FITS, FAILS = "enough", "not enough"
ROW_PX = 66


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


def column_chart(column: Column, footing: Footing, loads: TopLoads) -> alt.LayerChart:
    """Draw the pier from the side, with the size of each part beside it."""
    under, plate_top, below, named = _foot(footing)
    top = plate_top + column.height.to_value(u.m)
    centre, half = top + loads.centre.to_value(u.m), column.width.to_value(u.m) / 2
    shaft = (-half, half, plate_top, top, STONE if column.material == "concrete" else METAL)
    boxes = [*under, shaft]
    named += [(half, (plate_top + top) / 2, _column_words(column)),
              (0.0, centre, f"{loads.mass.value:.0f} kg, {loads.centre.value:g} mm above the column")]
    reach = max(half, *(max(-box[0], box[1]) for box in boxes))
    bottom, height = min(-0.1, below), centre + 0.15
    scale = min(TALL_PX / (height - bottom), BROAD_PX / (2 * reach))  # pixels to the metre, either way
    x = alt.Scale(domain=[-1.05 * reach, 1.05 * reach + (LABELS_PX + 12) / scale], nice=False, zero=False)
    y = alt.Scale(domain=[bottom - 0.05, height], nice=False, zero=False)
    ground = alt.Chart(pd.DataFrame([{"x": -1.05 * reach, "x2": 1.05 * reach, "y": 0.0}])).mark_rule(
        color=GREY, strokeDash=[4, 3]).encode(alt.X("x:Q", scale=x, axis=None), alt.X2("x2:Q"), alt.Y("y:Q", scale=y))
    load = alt.Chart(pd.DataFrame([{"x": 0.0, "y": centre}])).mark_point(
        filled=True, size=420, color=BLUE, opacity=0.9).encode(x=alt.X("x:Q"), y=alt.Y("y:Q"))
    names = labels(named, 1.05 * reach + 8 / scale, 1 / scale, LETTERS)
    return alt.layer(_drawn(boxes, x, y), ground, load, names).properties(
        width=round(2.1 * reach * scale) + LABELS_PX + 12, height=round((height - bottom + 0.05) * scale),
        description="The column on its footing from the side, to scale.")


def _drawn(boxes: list[Box], x: alt.Scale, y: alt.Scale) -> alt.Chart:
    table = pd.DataFrame(boxes, columns=["x", "x2", "y", "y2", "ink"])
    return alt.Chart(table).mark_rect(stroke=GREY, strokeWidth=0.8).encode(
        x=alt.X("x:Q", scale=x, axis=None), x2=alt.X2("x2:Q"), y2=alt.Y2("y2:Q"), color=alt.Color("ink:N", scale=None),
        y=alt.Y("y:Q", scale=y, title="above the ground (m)", axis=alt.Axis(tickCount=6, grid=False)))


def _column_words(column: Column) -> str:
    wall = "" if column.wall is None else f" × {column.wall.value:g}"
    return f"{column.material}, {column.shape}, {column.width.value:g}{wall} mm, {column.height.value:g} m high"


def _foot(footing: Footing) -> tuple[list[Box], float, float, list[tuple[float, float, str]]]:
    """Return what is drawn below the column, the height of the column's foot, the lowest place and what is named."""
    boxes, below, named = _ground(footing)
    if not footing.rods:
        return boxes, 0.0, below, named
    free = footing.rod_free_length.to_value(u.m)
    thick = 0.015 if footing.plate_thickness is None else footing.plate_thickness.to_value(u.m)
    deep = 0.1 if footing.anchor_depth is None else footing.anchor_depth.to_value(u.m)
    away, half = footing.rod_circle.to_value(u.m) / 2, footing.rod_diameter.to_value(u.m) / 2
    boxes += [(side * away - half, side * away + half, -deep, free + thick + 0.03, VERMILION) for side in (-1, 1)]
    boxes.append((-away - 0.03, away + 0.03, free, free + thick, METAL))
    plate = "" if footing.plate_thickness is None else f"plate of {footing.plate_thickness.value:g} mm on "
    rods = f"{footing.rods} rods of {footing.rod_diameter.value:g} mm"
    named.append((away, free + thick / 2, f"{plate}{rods} on a circle of {footing.rod_circle.value:g} mm"))
    return boxes, free + thick, min(below, -deep), named


def _ground(footing: Footing) -> tuple[list[Box], float, list[tuple[float, float, str]]]:
    """Return the footing itself, its lowest place, and its name."""
    half = footing.width.to_value(u.m) / 2
    size = f"{footing.width.value:g} × {footing.length.value:g} m"
    if footing.kind == "pad":
        depth = 0.3 if footing.depth is None else footing.depth.to_value(u.m)
        deep = "depth not given" if footing.depth is None else f"{footing.depth.value:g} m deep"
        named = [(half, -depth / 2, f"pad {size}, {deep}")]
        if footing.frost_depth is not None:
            named.append((half, -footing.frost_depth.to_value(u.m), f"frost to {footing.frost_depth.value:g} m"))
        return [(-half, half, -depth, 0.0, STONE)], -depth, named
    if footing.kind == "tripod":
        stand, foot = footing.stance.to_value(u.m) / 2, max(footing.foot_diameter.to_value(u.m) / 2, 0.02)
        feet = [(side * stand - foot, side * stand + foot, -0.02, 0.0, METAL) for side in (-1, 1)]
        return feet, -0.1, [(stand, 0.0, f"tripod, feet on a circle of {footing.stance.value:g} m")]
    if footing.kind == "slab":
        reach, thick = _reach(footing), footing.slab_thickness.to_value(u.m)
        return [(-reach, reach, -thick, 0.0, STONE)], -thick, [
            (reach, -thick / 2, f"slab, {footing.slab_thickness.value:g} m thick")]
    if footing.joists is not None:
        span = footing.joists[0].to_value(u.m) / 2
        return [(-span, span, -0.2, 0.0, PALE)], -0.2, [
            (span, -0.1, f"floor on joists over {footing.joists[0].value:g} m")]
    return [(-half, half, -0.1, 0.0, SOIL)], -0.1, [(half, -0.05, "rigid ground")]


def _reach(footing: Footing) -> float:
    return 1.0 if footing.slab_reach is None else min(footing.slab_reach.to_value(u.m), 2.0)


def tree_frame(tree: PowerTree, wiring: Wiring) -> pd.DataFrame:
    """Return a row for each node in the order of the tree: name, depth, row, row of what feeds it, words, state."""
    rows = [(tree.supply.name, 0, 0, 0, _both(wiring.working.supply_voltage, wiring.worst.supply_voltage), "", FITS)]
    for name in _in_order(tree, tree.supply.name):
        path = tree.path_to(name)
        feeding = tree.cables[path[-1]]
        above = next(row[2] for row in rows if row[0] == feeding.source)
        rows.append((name, len(path), len(rows), above, *_words(tree, wiring, name)))
    return pd.DataFrame(rows, columns=["name", "depth", "row", "fed_from", "volts", "cable", "state"])


def _in_order(tree: PowerTree, source: str) -> list[str]:
    names: list[str] = []
    for cable in (cable for cable in tree.cables if cable.source == source):
        names += [cable.feeds, *_in_order(tree, cable.feeds)]
    return names


def _words(tree: PowerTree, wiring: Wiring, name: str) -> tuple[str, str, str]:
    """Return what is said of a node: its voltages, its cable, and whether its voltage is enough."""
    cable = tree.cables[tree.path_to(name)[-1]]
    fuse = "no fuse" if cable.fuse is None else f"fuse {cable.fuse.value:g} A"
    wire = f"{cable.length.value:g} m of {cable.cross_section.value:g} mm², {fuse}"
    hubs = [hub.name for hub in tree.hubs]
    if name in hubs:
        index = hubs.index(name)
        both = _both(wiring.working.hub_voltage[index], wiring.worst.hub_voltage[index])
        return both, wire, FITS
    index = [load.name for load in tree.loads].index(name)
    judged = wiring.loads[index]
    enough = judged.verdict == FITS
    words = "" if enough else f": {judged.verdict}"
    limit = f"takes {judged.minimum.value:g} to {judged.maximum.value:g} V{words}"
    return f"{_both(judged.working, judged.lowest)}|{limit}", wire, FITS if enough else FAILS


def _both(working: u.Quantity[u.V], worst: u.Quantity[u.V]) -> str:
    return f"{_volts(working)}, at worst {_volts(worst)}"


def _volts(voltage: u.Quantity[u.V]) -> str:
    return f"{voltage.value:.2f} V" if voltage.value == voltage.value else "none"


def tree_chart(tree: PowerTree, wiring: Wiring) -> alt.LayerChart:
    """Draw the tree from the supply down, its figures beside each node."""
    table = tree_frame(tree, wiring)
    table["stem"], table["end"] = table["depth"] - 1, table["depth"]
    x = alt.Scale(domain=[-0.3, 14], nice=False)
    rows = alt.Scale(domain=[-0.4, len(table) - 0.3], reverse=True, nice=False)
    y = alt.Y("row:Q", axis=None, scale=rows)
    fed = table[table["depth"] > 0]
    state = alt.Shape("state:N", title=None, legend=None,
                      scale=alt.Scale(domain=[FITS, FAILS], range=["circle", "triangle-down"]))
    hue = alt.Color("state:N", legend=None, scale=alt.Scale(domain=[FITS, FAILS], range=[BLUE, VERMILION]))
    at = alt.X("depth:Q", axis=None, scale=x)
    tips = [alt.Tooltip(f"{name}:N") for name in ("name", "volts", "cable", "state")]
    down = alt.Chart(fed).mark_rule(color=GREY).encode(x=alt.X("stem:Q", axis=None, scale=x), y2=alt.Y2("row:Q"),
                                                       y=alt.Y("fed_from:Q", axis=None, scale=rows))
    over = alt.Chart(fed).mark_rule(color=GREY).encode(x=alt.X("stem:Q", axis=None, scale=x), x2=alt.X2("end:Q"), y=y)
    node = alt.Chart(table).mark_point(filled=True, size=130, opacity=1).encode(x=at, y=y, shape=state, color=hue,
                                                                               tooltip=tips)
    table["words"] = table["volts"] + "|" + table["cable"]
    words = [alt.Chart(table).mark_text(align="left", baseline="middle", dx=12, dy=dy, fontSize=12, fontWeight=weight,
                                        color=INK, lineBreak="|").encode(x=at, y=y, text=f"{text}:N")
             for text, dy, weight in (("name", 0, "bold"), ("words", 15, "normal"))]
    return alt.layer(down, over, node, *words).properties(
        height=ROW_PX * len(table), description="The 12 V tree with the voltage that arrives at each node.")
