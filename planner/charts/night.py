"""A night in pictures: the plan as a timeline, and altitude against time."""

import datetime
from collections.abc import Iterator
from typing import Any

import altair as alt
import numpy as np
import pandas as pd
from astropy import units as u
from astropy.time import Time

from planner.charts.theme import BLUE, EAST_HUE, GREY, INK, VERMILION, WEST_HUE, dark_paper
from planner.exposure.reasons import percent
from planner.session.night.model import Block, NightPlan
from planner.session.night.sky import NightClock, NightSky
from planner.visibility import Night

# Hues of Okabe and Ito (2008) that differ in lightness too; names stand beside the lines.
TARGET_COLOURS = (BLUE, VERMILION, "#009E73", "#CC79A7", "#000000", "#E69F00", "#56B4E9")
WEST, EAST, NO_SIDE = "telescope west of the pier", "telescope east of the pier", "exposing"
SIDE_NAMES = {"west": WEST, "east": EAST, "": NO_SIDE}
NIGHT_PAPER = "#c9d1d9"
ROW, HEAD = 26, 90  # screen pixels: of a row, and of legend and axis
STATES = ("planned", "clear", "hidden", "moon")
NAME_SIZE = 0.2, 0.07  # of a written name, as shares of a picture's width and height
NAME_SHARES = (0.5, 0.25, 0.75, 0.05, 0.95)  # along a stretch, where a name is tried
ROOM_FOR_A_LABEL = 0.55  # share of the night up to which a label fits to the right of its bar
BESIDE = 11  # screen pixels from a label to its bar, or to the middle of a flip's diamond
ABOVE_A_MARK = -20  # screen pixels: a name clears the diamond of a flip
# Of the layers that share an axis: its domain stands in one of them alone, one without an end in time.
TIME = alt.X("time:T")
Layers = list[alt.Chart | alt.LayerChart]


def time_axis(clock: NightClock, start: pd.Timestamp, end: pd.Timestamp) -> alt.X:
    """Return the axis of the site's clock; the stamps are read as they stand."""
    hours = [chart_time(hour) for hour in pd.date_range(pd.Timestamp(start).ceil("h"), end, freq="h")]
    note = "; clocks change in this night" if clock.changes else ""
    return alt.X("time:T", title=f"time ({clock.zone}{note})",
                 scale=alt.Scale(type="utc", domain=[chart_time(start), chart_time(end)], nice=False),
                 axis=alt.Axis(format="%H", values=hours, labelOverlap=True))


def chart_time(time: Any) -> dict[str, Any]:
    """Return a clock time as the chart's scale wants it."""
    time = pd.Timestamp(time)
    return {"year": time.year, "month": time.month, "date": time.day, "hours": time.hour, "minutes": time.minute,
            "seconds": time.second, "utc": True}


def as_shown(times: Any) -> Any:
    """Return clock times marked so that no viewer's own zone shifts them."""
    return pd.to_datetime(pd.Series(list(times), dtype="datetime64[ns]")).dt.tz_localize("UTC")


def twilight_frame(night: Night, clock: NightClock) -> pd.DataFrame:
    """Return the stretches of the Sun's depth: name, time, end, dark (share of black paper)."""
    start, end = night.sunset or night.start, night.sunrise or night.end
    levels: list[tuple[str, Any, Any, float]] = [("civil twilight", start, end, 0.15)]
    levels += [(name, one.dusk, one.dawn, shade) for one, name, shade in zip(
        night.twilights, ("nautical twilight", "astronomical twilight", "dark"), (0.4, 0.7, 1.0), strict=True)]
    rows = []
    for name, dusk, dawn, shade in levels:
        if dusk is not None and dawn is not None:
            rows.append((name, clock(dusk), clock(dawn), shade))
    table = pd.DataFrame(rows, columns=["name", "time", "end", "dark"])
    return table.assign(time=as_shown(table["time"]), end=as_shown(table["end"]))


def twilight_layer(night: Night, clock: NightClock) -> alt.Chart:
    """Draw the depth of the night as paper that darkens, also where light and dark are exchanged."""
    table = twilight_frame(night, clock)
    if dark_paper():  # there white is the darkest: the day is drawn, before dusk and after dawn
        sides = [table.assign(end=table["time"], time=table["time"].min()),
                 table.assign(time=table["end"], end=table["end"].max())]
        table = pd.concat(sides).assign(name="twilight").query("time < end")
    return alt.Chart(table).mark_rect(color=NIGHT_PAPER, opacity=0.3).encode(
        x=TIME, x2=alt.X2("end:T"), tooltip=[alt.Tooltip("name:N", title="the Sun")])


def timeline_frame(plan: NightPlan) -> pd.DataFrame:
    """Return blocks and events in order: row, kind, target, filter, time, end, side, text; times on the site's clock.

    The clock is the evening's, run on through the night; `plan_csv` has the times in UTC.
    """
    clock = NightClock(plan.night)
    rows = [{"row": _row(block), "kind": "block", "target": block.target.name, "filter": block.band.name,
             "time": clock(block.start), "end": clock(block.end), "side": SIDE_NAMES[block.pier_side],
             "text": _subs(block)} for block in plan.blocks]
    rows += _event_rows(plan, clock)
    rows += [{"row": "Moon up", "kind": "moon", "time": clock(start), "end": clock(end), "text": _lit(plan)}
             for start, end in plan.moon.up]
    table = pd.DataFrame(rows, columns=["row", "kind", "target", "filter", "time", "end", "side", "text"])
    table = table.assign(time=as_shown(table["time"]), end=as_shown(table["end"])).sort_values("time", kind="stable")
    return table.reset_index(drop=True)


def _row(block: Block) -> str:
    return f"{block.target.name} · {block.band.name}"


def _subs(block: Block) -> str:
    return f"{block.sub_count} × {block.sub_exposure.to_value(u.s):g} s"


def _lit(plan: NightPlan) -> str:
    return f"{percent(plan.moon.illumination)} lit"


def _event_rows(plan: NightPlan, clock: NightClock) -> Iterator[dict[str, Any]]:
    """Give what is not a block, in the row of the block that it leads to or interrupts."""
    for event in plan.events:
        if event.kind == "rest":  # an empty stretch says it
            continue
        row = {"flats": "flats", "darks": "darks"}.get(event.kind)
        if row is None:
            after = [block for block in plan.blocks if (block.end - event.start).sec > 1]
            row = _row(after[0] if after else plan.blocks[-1])
        yield {"row": row, "kind": event.kind, "time": clock(event.start), "end": clock(event.end),
               "text": event.text}


def row_labels(table: pd.DataFrame, start: pd.Timestamp, end: pd.Timestamp) -> pd.DataFrame:
    """Return one label for each row of blocks: the subs of all, on the side where there is room, or `over` it.

    No label lies on what leads to a block, or on a flip: one over blocks begins or ends beside it.
    """
    rows = []
    for name, part in table[table["kind"] == "block"].groupby("row", sort=False):
        lengths: dict[str, list[str]] = {}
        for text in part["text"]:
            count, length = text.split(" × ")
            lengths.setdefault(length, []).append(count)
        words = ", ".join(f"{' + '.join(counts)} × {length}" for length, counts in lengths.items())
        row = table[table["row"] == name]
        first, last, flips = row["time"].min(), part["end"].max(), row["time"][row["kind"] == "flip"]
        side = ("left" if (last - start) / (end - start) <= ROOM_FOR_A_LABEL else
                "right" if (end - first) / (end - start) <= ROOM_FOR_A_LABEL else "center")
        over = side == "center"
        longest = part.loc[(part["end"] - part["time"]).idxmax()]
        middle = longest["time"] + (longest["end"] - longest["time"]) / 2
        if over and len(flips):
            middle = flips.iloc[0]
            side, first, last = "left" if middle - start < end - middle else "right", middle, middle
        rows.append({"row": name, "time": {"left": last, "right": first}.get(side, middle), "align": side,
                     "text": words, "over": over})
    return pd.DataFrame(rows, columns=["row", "time", "align", "text", "over"])


def timeline_chart(plan: NightPlan, now: datetime.datetime | None = None) -> alt.LayerChart:
    """Draw the plan: a row a target and filter, bars by the side of the pier, flips, focus, calibration, now (UTC)."""
    clock = NightClock(plan.night)
    table = timeline_frame(plan)
    start, end = _drawn_span(plan, clock, table)
    table = table[(table["end"] > start) & (table["time"] < end)]
    table = table.assign(time=table["time"].clip(lower=start), end=table["end"].clip(upper=end))
    order = list(dict.fromkeys(table["row"]))
    order = [row for row in order if row != "Moon up"] + [row for row in order if row == "Moon up"]
    x, y = TIME, alt.Y("row:N", sort=order, title=None, axis=alt.Axis(labelLimit=120))
    tips = [alt.Tooltip("row:N", title="what"), alt.Tooltip("text:N"),
            *(alt.Tooltip(f"{name}:T", title=title, format="%H:%M", formatType="utc")
              for name, title in (("time", "from"), ("end", "to")))]
    sides = [side for side in (WEST, EAST, NO_SIDE) if (table["side"] == side).any()]
    colours = {WEST: WEST_HUE, EAST: EAST_HUE, NO_SIDE: WEST_HUE}
    kinds = {kind: table[table["kind"] == kind] for kind in ("block", "flats", "darks", "moon", "target", "flip",
                                                             "focus", "filter")}
    rest = pd.concat([kinds[kind] for kind in ("flats", "darks", "moon")])
    layers: Layers = [
        twilight_layer(plan.night, clock),
        alt.Chart(rest).mark_bar(color=GREY, opacity=0.55, height=8).encode(x=x, x2=alt.X2("end:T"), y=y, tooltip=tips),
        alt.Chart(pd.concat([kinds["target"], kinds["filter"]])).mark_bar(color=GREY, height=3).encode(
            x=x, x2=alt.X2("end:T"), y=y, tooltip=tips),
        alt.Chart(kinds["block"]).mark_bar(height=15).encode(
            x=x, x2=alt.X2("end:T"), y=y, tooltip=tips, color=alt.Color("side:N", title=None, scale=alt.Scale(
                domain=sides, range=[colours[side] for side in sides]), legend=alt.Legend(
                    direction="vertical", labelLimit=300))),
        alt.Chart(kinds["focus"]).mark_tick(color="white", thickness=2, size=15).encode(
            x=time_axis(clock, start, end), y=y, tooltip=tips),
        alt.Chart(kinds["flip"]).mark_point(shape="diamond", filled=True, size=120, color="black", opacity=1).encode(
            x=x, y=y, tooltip=tips),
    ]
    labels = row_labels(table, start, end)
    for (align, over), part in labels.groupby(["align", "over"]):
        words = alt.Chart(part).encode(x=x, y=y, text=alt.Text("text:N"))
        layers += named(words, align=align, dx={"left": BESIDE, "right": -BESIDE}.get(align, 0),
                        dy=-ROW / 2 if over else 0, fontWeight="normal")
    moment = pd.DataFrame({"time": as_shown([] if now is None else [clock(Time(now))])})
    moment = moment[moment["time"].between(start, end)]
    layers.append(alt.Chart(moment).mark_rule(color="black", strokeWidth=1.5, strokeDash=[4, 3]).encode(
        x=x, tooltip=[alt.Tooltip("time:T", title="now", format="%H:%M", formatType="utc")]))
    return alt.layer(*layers).properties(
        height=HEAD + ROW * len(order), description="The plan of the night: blocks by target and filter over time; "
        "the table below holds the same.")


def _drawn_span(plan: NightPlan, clock: NightClock, table: pd.DataFrame) -> tuple[pd.Timestamp, pd.Timestamp]:
    """Return from when to when the timeline reaches: the night, and what is done before and after it."""
    known = [time for time in (plan.night.sunset, plan.night.sunrise) if time is not None]
    stamps = list(as_shown(clock(time) for time in known)) if known else []
    work = table[table["kind"].isin(["block", "flats", "target"])]
    stamps += [*work["time"], *work["end"]]
    if len(stamps) < 2:
        stamps = list(as_shown([clock(plan.night.start), clock(plan.night.end)]))
    return min(stamps), max(stamps)


def altitude_frame(sky: NightSky) -> pd.DataFrame:
    """Return altitude and azimuth of targets and Moon by time: name, time, altitude_deg, azimuth_deg, state.

    States: planned, clear (nothing in the way), hidden (skyline, lowest altitude, or zenith keep-out), moon.
    """
    shown = as_shown(sky.clock(time) for time in sky.times)
    frames = []
    for row, target in enumerate(sky.targets):
        state = np.where(sky.working[row], "planned", np.where(sky.clear[row], "clear", "hidden"))
        frames.append(_track(target.name, shown, sky.places.apparent_altitude[row], sky.places.azimuth[row], state))
    frames.append(_track("Moon", shown, sky.moon.apparent_altitude, sky.moon.azimuth,
                         np.full(len(shown), "moon")))
    return pd.concat(frames, ignore_index=True)


def _track(name: str, shown: pd.Series, altitude: u.Quantity, azimuth: u.Quantity, state: np.ndarray) -> pd.DataFrame:
    return pd.DataFrame({"name": name, "time": shown, "altitude_deg": altitude.to_value(u.deg),
                         "azimuth_deg": azimuth.to_value(u.deg), "state": state})


def runs_of(table: pd.DataFrame, states: tuple[str, ...]) -> pd.DataFrame:
    """Return the rows in some states that are above the horizon, with a `run` that breaks where they are not."""
    keep = table["state"].isin(states) & (table["altitude_deg"] > 0)
    run = (keep != keep.groupby(table["name"]).shift()).cumsum()
    return table.assign(run=table["name"] + run.astype(str))[keep]


def target_colour(sky: NightSky) -> alt.Color:
    """Return the colours of the targets; names stand beside the lines, so there is no legend."""
    names = [target.name for target in sky.targets]
    return alt.Color("name:N", legend=None, scale=alt.Scale(
        domain=names, range=[TARGET_COLOURS[place % len(TARGET_COLOURS)] for place in range(len(names))]))


def name_places(table: pd.DataFrame, across: str, up: str = "altitude_deg", size: tuple[float, float] | None = None
                ) -> pd.DataFrame:
    """Return where each name is written: along the planned stretch, else what is clear or up, away from other names.

    `across` and `up` are the columns that run along the picture and up it, `size` how much of them the picture holds.
    """
    place = table[across].astype("int64") if across == "time" else table[across]
    wide, high = size or (max(float(place.max() - place.min()), 1.0), 90.0)
    scaled = np.column_stack([(place - place.min()) / wide / NAME_SIZE[0], table[up] / high / NAME_SIZE[1]])
    rows: list[int] = []
    for _, part in table[table["altitude_deg"] > 0].groupby("name", sort=False):
        stretches = [own for state in STATES if len(own := part.index[part["state"] == state])]
        tried = [own[min(int(share * len(own)), len(own) - 1)] for own in stretches for share in NAME_SHARES]
        taken = scaled[rows].reshape(len(rows), 2)
        apart = [float(np.abs(taken - scaled[at]).max(axis=1).min(initial=np.inf)) for at in tried]
        rows.append(next((at for at, gap in zip(tried, apart, strict=True) if gap > 1), tried[int(np.argmax(apart))]))
    return table.loc[rows]


def named(layer: alt.Chart, **mark: Any) -> Layers:
    """Return text with a white edge around it, readable over lines."""
    base = {"fontSize": 12, "fontWeight": "bold", "dy": -11, **mark}
    return [layer.mark_text(stroke="white", strokeWidth=4, strokeJoin="round", **base),
            layer.mark_text(color=INK, **base)]


def altitude_chart(sky: NightSky) -> alt.LayerChart:
    """Draw altitude against time: thick where planned, thin where clear, dotted where something is in the way."""
    table = altitude_frame(sky)
    start, end = table["time"].min(), table["time"].max()
    x = TIME
    y = alt.Y("altitude_deg:Q", title="altitude (°)", scale=alt.Scale(domain=[0, 90]), axis=alt.Axis(
        values=[0, 15, 30, 45, 60, 75, 90]))
    tips = [alt.Tooltip("name:N"), alt.Tooltip("time:T", format="%H:%M", formatType="utc"),
            alt.Tooltip("altitude_deg:Q", title="altitude (°)", format=".0f"),
            alt.Tooltip("azimuth_deg:Q", title="azimuth (°)", format=".0f"), alt.Tooltip("state:N")]
    colour = target_colour(sky)
    limit = pd.DataFrame([{"altitude_deg": sky.lowest_altitude.to_value(u.deg)}])

    def lines(states: tuple[str, ...], **mark: Any) -> alt.Chart:
        return alt.Chart(runs_of(table, states)).mark_line(**mark).encode(
            x=x, y=y, color=colour, detail=alt.Detail("run:N"), tooltip=tips)

    layers: Layers = [
        twilight_layer(sky.night, sky.clock),
        alt.Chart(limit).mark_rule(color=GREY, strokeDash=[2, 4]).encode(y=y),
        alt.Chart(runs_of(table, ("moon",))).mark_line(color=GREY, strokeDash=[8, 4], strokeWidth=2).encode(
            x=time_axis(sky.clock, start, end), y=y, detail=alt.Detail("run:N"), tooltip=tips),
        lines(("planned", "clear", "hidden"), strokeWidth=1.4, strokeDash=[2, 4]),
        lines(("planned", "clear"), strokeWidth=1.6), lines(("planned",), strokeWidth=6, strokeCap="butt"),
        *_meridian(sky, x, y),
        *named(alt.Chart(name_places(table, "time")).encode(x=x, y=y, text=alt.Text("name:N")), dy=ABOVE_A_MARK),
    ]
    return alt.layer(*layers).properties(
        height=330, description="Altitude of the drawn targets and the Moon over the night.")


def meridian_frame(sky: NightSky) -> pd.DataFrame:
    """Return crossings of the meridian and planned flips: name, event, time, altitude_deg."""
    rows = [(target.name, "crosses the meridian", sky.clock(time), altitude.to_value(u.deg))
            for target, time, altitude in sky.crossings]
    rows += [(target.name, "flip planned", sky.clock(time), altitude.to_value(u.deg))
             for target, time, altitude, _ in sky.flips]
    table = pd.DataFrame(rows, columns=["name", "event", "time", "altitude_deg"])
    return table.assign(time=as_shown(table["time"]))


def _meridian(sky: NightSky, x: alt.X, y: alt.Y) -> Layers:
    """Draw where targets cross the meridian, and where the mount turns over."""
    table = meridian_frame(sky)
    tips = [alt.Tooltip("name:N"), alt.Tooltip("event:N"), alt.Tooltip("time:T", format="%H:%M", formatType="utc")]
    crossed, flips = (table[table["event"] == event] for event in ("crosses the meridian", "flip planned"))
    return [alt.Chart(crossed).mark_tick(orient="vertical", thickness=2, size=22, color="black").encode(
                x=x, y=y, tooltip=tips),
            alt.Chart(flips).mark_point(shape="diamond", filled=True, size=120, color="black", opacity=1).encode(
                x=x, y=y, tooltip=tips)]
