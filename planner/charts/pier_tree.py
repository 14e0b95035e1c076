"""The 12 V tree as it is wired: supply, hubs, devices, the cable to each and the voltage that arrives."""

import altair as alt
import pandas as pd
from astropy import units as u

from planner.charts.theme import BLUE, GREY, VERMILION
from planner.pier import PowerTree, Wiring

INK = "#31333f"
FITS, FAILS = "enough", "not enough"
ROW_PX = 66


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
