"""The pictures of the pier: the balance beam, the voltage along the tree, the shape in which the column swings."""

import altair as alt
import pandas as pd
from astropy import units as u

from planner.charts.theme import BLUE, GREY, PALE, VERMILION
from planner.pier import Assembly, BalancePlan, ColumnResponse, ConcreteAge, PowerTree, Wiring

NOW, AFTER = "now", "after the moves"
WORKING, WORST = "observing", "all at peak, supply at its lowest"
SOFT_FOOT, RIGID_FOOT = "as it stands", "on a rigid foot"


def balance_frame(assembly: Assembly, plan: BalancePlan) -> pd.DataFrame:
    """Return every mass as a row: when, kind, name, mass_kg, outward_mm (tube side positive), along_mm, reach_mm."""
    rows = []
    for when, state in ((NOW, assembly), (AFTER, plan.moved)):
        rows += [(when, "tube", part.name, part.mass.value, (state.saddle_distance + part.height).value,
                  part.along.value, 0.0) for part in state.parts]
        rows += [(when, "counterweight", weight.name, weight.mass.value, -weight.position.value, 0.0,
                  weight.thickness.value) for weight in state.counterweights]
    return pd.DataFrame(rows, columns=["when", "kind", "name", "mass_kg", "outward_mm", "along_mm", "reach_mm"])


def balance_chart(assembly: Assembly, plan: BalancePlan) -> alt.LayerChart:
    """Draw all masses in the plane of tube and counterweight bar: as they are filled, after the moves hollow."""
    table = balance_frame(assembly, plan)
    bar = pd.DataFrame([{"from": -assembly.bar.end.value, "to": assembly.saddle_distance.value, "along": 0.0}])
    balanced = pd.DataFrame([{
        "outward": plan.before.centre_distance.value, "along": plan.before.centre_along.value,
        "label": "centre of the tube's mass"}])
    x = alt.X("outward_mm:Q", title="from the right-ascension axis (mm)")
    y = alt.Y("along_mm:Q", title="along the tube (mm), sky up")
    colour = alt.Color("kind:N", title=None, scale=alt.Scale(domain=["tube", "counterweight"], range=[BLUE, VERMILION]))
    size = alt.Size("mass_kg:Q", title="mass (kg)", legend=None, scale=alt.Scale(range=[40, 900], zero=True))
    tips = [alt.Tooltip("name:N"), alt.Tooltip("mass_kg:Q", title="mass (kg)", format=".2f"),
            alt.Tooltip("outward_mm:Q", title="from the axis (mm)", format=".0f"),
            alt.Tooltip("along_mm:Q", title="along the tube (mm)", format=".0f"), alt.Tooltip("when:N")]
    now, after = table[table["when"] == NOW], table[table["when"] == AFTER]
    layers = [
        alt.Chart(bar).mark_rule(strokeWidth=7, color=PALE).encode(x="from:Q", x2="to:Q", y="along:Q"),
        alt.Chart(pd.DataFrame([{"axis": 0}])).mark_rule(color=GREY, strokeDash=[4, 3]).encode(x="axis:Q"),
        alt.Chart(now).mark_circle(opacity=0.65).encode(x=x, y=y, color=colour, size=size, tooltip=tips),
        alt.Chart(after).mark_point(filled=False, strokeWidth=1.8, opacity=1).encode(
            x=x, y=y, color=colour, size=size, tooltip=tips),
        alt.Chart(balanced).mark_point(shape="cross", size=120, color="black", filled=True, angle=45).encode(
            x="outward:Q", y="along:Q", tooltip="label:N"),
    ]
    return alt.layer(*layers).properties(
        height=340, description="Where the masses sit about the axes, tube and counterweights.")


def voltage_frame(tree: PowerTree, wiring: Wiring) -> pd.DataFrame:
    """Return supply, hubs and loads in the order of the tree, indented by depth: node, case, voltage, least."""
    worst, working = wiring.worst, wiring.working
    voltages = {}
    for index, hub in enumerate(tree.hubs):
        voltages[hub.name] = (working.hub_voltage[index].value, worst.hub_voltage[index].value, None)
    for index, load in enumerate(tree.loads):
        voltages[load.name] = (working.load_voltage[index].value, worst.load_voltage[index].value,
                               load.accepts[0].value)
    rows = [(tree.supply.name, WORKING, working.supply_voltage.value, None),
            (tree.supply.name, WORST, worst.supply_voltage.value, None)]
    for name in _in_tree_order(tree, tree.supply.name):
        label = " ".join(["→"] * len(tree.path_to(name)) + [name])
        full, low, least = voltages[name]
        rows += [(label, WORKING, full, least), (label, WORST, low, least)]
    return pd.DataFrame(rows, columns=["node", "case", "voltage", "least"])


def _in_tree_order(tree: PowerTree, source: str) -> list[str]:
    names: list[str] = []
    for cable in (cable for cable in tree.cables if cable.source == source):
        names += [cable.feeds, *_in_tree_order(tree, cable.feeds)]
    return names


def voltage_chart(tree: PowerTree, wiring: Wiring) -> alt.LayerChart:
    """Draw the voltage at each node of the tree in both cases, with the least each load needs as a tick."""
    table = voltage_frame(tree, wiring)
    order = list(dict.fromkeys(table["node"]))
    y = alt.Y("node:N", sort=order, title=None, axis=alt.Axis(labelLimit=170))
    x = alt.X("voltage:Q", title="voltage (V)", scale=alt.Scale(zero=False, padding=12),
              axis=alt.Axis(tickCount=8))
    colour = alt.Color("case:N", title=None, scale=alt.Scale(domain=[WORKING, WORST], range=[BLUE, VERMILION]),
                       legend=alt.Legend(direction="vertical", labelLimit=300))
    shape = alt.Shape("case:N", title=None, scale=alt.Scale(domain=[WORKING, WORST], range=["circle", "diamond"]))
    known = table.dropna(subset=["voltage"])
    tips = [alt.Tooltip("node:N"), alt.Tooltip("case:N"), alt.Tooltip("voltage:Q", title="voltage (V)", format=".2f"),
            alt.Tooltip("least:Q", title="needs (V)", format=".1f")]
    span = alt.Chart(known).mark_line(color=PALE, strokeWidth=4).encode(x=x, y=y, detail="node:N")
    dots = alt.Chart(known).mark_point(filled=True, size=90, opacity=1).encode(
        x=x, y=y, color=colour, shape=shape, tooltip=tips)
    least = alt.Chart(table.dropna(subset=["least"]).drop_duplicates("node")).mark_tick(
        thickness=3, size=18, color="black").encode(x=alt.X("least:Q"), y=y,
                                                    tooltip=[alt.Tooltip("least:Q", title="needs at least (V)")])
    return alt.layer(span, least, dots).properties(
        height=110 + 30 * len(order), description="Voltage that arrives at each load, working and at worst.")


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
        order="height_m:Q", color=alt.Color("foot:N", title=None, scale=colours),
        strokeDash=alt.StrokeDash("foot:N", title=None, scale=dashes),
        tooltip=[alt.Tooltip("foot:N"), alt.Tooltip("height_m:Q", title="height (m)", format=".2f"),
                 alt.Tooltip("shape:Q", title="sideways", format=".2f")])
    rest = alt.Chart(pd.DataFrame([{"at": 0}])).mark_rule(color=GREY, strokeDash=[2, 3]).encode(x="at:Q")
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
        x=x, y=y, text="label:N")
    return alt.layer(line, point, text).properties(
        height=280, description="Strength of the concrete over its age, and the day the bolts may be loaded.")
