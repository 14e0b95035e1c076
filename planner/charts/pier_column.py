"""The column as it stands, to scale: footing, rods, plate, column, and the weight on top."""

import altair as alt
import pandas as pd
from astropy import units as u

from planner.charts.labels import labels
from planner.charts.theme import BLUE, GREY, PALE, VERMILION
from planner.pier import Column, Footing, TopLoads

TALL_PX, BROAD_PX, LABELS_PX, LETTERS = 400, 140, 195, 27
Box = tuple[float, float, float, float, str]  # x from, x to, y from, y to [m], colour
SOIL, METAL, STONE = "#efe9dd", "#8c99a5", "#cfd4d9"


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
