"""The year of one target: useful hours by night, beside those on the clock and the dark ones, over the Moon."""

import altair as alt
import pandas as pd
from astropy import units as u

from planner.charts.night import NIGHT_PAPER, Layers, as_shown, chart_time
from planner.charts.theme import BLUE, INK, VERMILION
from planner.session.campaign.campaign import Campaign
from planner.session.campaign.outlook import calendar
from planner.session.night.model import NightPlan
from planner.session.year.objects import FittingObjects
from planner.session.year.season import Season, SeasonTarget

HEIGHT = 200
MOON_STRIP = 0.07  # of the height, below zero
CALENDAR_ROW, CALENDAR_HEAD = 24, 80  # screen pixels: of a row, and of legend and axis


def year_frame(found: Season) -> pd.DataFrame:
    """Return the season as a table: target, night, useful_h, up_h, dark_h, moon_illumination."""
    return pd.concat([_one(found, row) for row in found.targets], ignore_index=True)


def _one(found: Season, row: SeasonTarget) -> pd.DataFrame:
    return pd.DataFrame({
        "target": row.target.name, "night": [date.isoformat() for date in found.dates],
        "useful_h": row.useful.to_value(u.h), "up_h": row.up.to_value(u.h), "dark_h": found.dark_hours.to_value(u.h),
        "moon_illumination": found.moon_illumination.value})


def year_chart(found: Season, row: SeasonTarget) -> alt.LayerChart:
    """Draw one target's year: useful hours filled, hours up as a line, the dark as paper, the Moon as a strip."""
    table = _one(found, row)
    table = table.assign(night=as_shown(pd.Timestamp(night) for night in table["night"]))
    table["after"] = table["night"] + pd.Timedelta(days=1)
    top = max(float(found.dark_hours.to_value(u.h).max()), 1.0) * 1.06
    table["strip"], table["floor"] = -MOON_STRIP * top, 0.0
    months = [chart_time(month) for month in pd.date_range(table["night"].min(), table["night"].max(), freq="MS")]
    x = alt.X("night:T")  # the domain stands in one layer alone
    axis = alt.X("night:T", title=None, scale=alt.Scale(
        type="utc", domain=[chart_time(table["night"].min()), chart_time(table["after"].max())], nice=False),
        axis=alt.Axis(format="%b", values=months, labelOverlap=True))
    y = alt.Y("useful_h:Q", title="hours per night", scale=alt.Scale(domain=[-MOON_STRIP * top, top], nice=False),
              axis=alt.Axis(values=[hour for hour in range(0, 25, 2) if hour <= top]))
    tips = [alt.Tooltip("night:T", title="night", format="%Y-%m-%d", formatType="utc"),
            alt.Tooltip("useful_h:Q", title="useful (h)", format=".1f"),
            alt.Tooltip("up_h:Q", title="up in the dark (h)", format=".1f"),
            alt.Tooltip("dark_h:Q", title="dark (h)", format=".1f"),
            alt.Tooltip("moon_illumination:Q", title="Moon lit", format=".0%")]
    base = alt.Chart(table)
    layers: Layers = [
        base.mark_area(color=NIGHT_PAPER, opacity=0.55, interpolate="step-after").encode(
            x=axis, y=alt.Y("dark_h:Q"), y2=alt.Y2("floor:Q")),
        base.mark_bar(color=BLUE, binSpacing=0).encode(
            x=x, x2=alt.X2("after:T"), y=y, y2=alt.Y2("floor:Q"), tooltip=tips),
        base.mark_line(color=INK, strokeWidth=1.4, interpolate="step-after").encode(x=x, y=alt.Y("up_h:Q")),
        base.mark_rect(color=INK).encode(
            x=x, x2=alt.X2("after:T"), y=alt.Y("strip:Q"), y2=alt.Y2("floor:Q"), tooltip=tips,
            opacity=alt.Opacity("moon_illumination:Q", legend=None, scale=alt.Scale(domain=[0, 1], range=[0, 0.85]))),
        *_fortnight(row, x, top),
    ]
    return alt.layer(*layers).properties(
        height=HEIGHT, description=f"Useful hours of {row.target.name} night by night.")


def _fortnight(row: SeasonTarget, x: alt.X, top: float) -> Layers:
    """Draw the best fortnight as a bar along the top."""
    if row.fortnight is None:
        return []
    first, last = row.fortnight.first, row.fortnight.last
    table = pd.DataFrame([{"night": first, "after": last, "useful_h": top, "low": top * 0.95,
                           "text": "best fortnight"}])
    table["night"] = as_shown([pd.Timestamp(first)])
    table["after"] = as_shown([pd.Timestamp(last)]) + pd.Timedelta(days=1)
    return [alt.Chart(table).mark_rect(color=VERMILION).encode(
        x=x, x2=alt.X2("after:T"), y=alt.Y("useful_h:Q"), y2=alt.Y2("low:Q"), tooltip=["text:N"])]


def objects_frame(found: FittingObjects) -> pd.DataFrame:
    """Return a sweep as a table, best first; columns end in their unit."""
    objects = found.objects
    return pd.DataFrame({
        "rank": range(1, len(objects) + 1), "name": objects.name.astype(str),
        "common_name": objects.common_name.astype(str), "kind": objects.kind.astype(str),
        "in_field": [", ".join(names) for names in found.in_field],
        "figure": found.figure, "fit": found.fit, "useful_h": found.useful.to_value(u.h),
        "up_h": found.up.to_value(u.h), "time_needed_h": found.time.to_value(u.h),
        "brightness_assumed": found.assumed, "size_arcmin": objects.size_major.to_value(u.arcmin),
        "ra_deg": objects.ra.to_value(u.deg), "dec_deg": objects.dec.to_value(u.deg)})


def calendar_frame(found: Campaign, plan: NightPlan) -> pd.DataFrame:
    """Return the hours on the clock by night and project: night, target, filters, hours."""
    rows = []
    for night in calendar(found, plan):
        for name in dict.fromkeys(target for target, _, _ in night.hours):
            hours = {band: time for target, band, time in night.hours if target == name}
            named = ", ".join(f"{band} {time:.1f} h" for band, time in hours.items())
            rows.append((pd.Timestamp(night.date), name, named, sum(hours.values())))
    return pd.DataFrame(rows, columns=["night", "target", "filters", "hours"])


def calendar_chart(table: pd.DataFrame) -> alt.Chart:
    """Draw a `calendar_frame`: a row for each project, a column for each night, darker with its hours."""
    order = list(table["target"].drop_duplicates())
    table = table.assign(night=as_shown(table["night"]))
    table["after"] = table["night"] + pd.Timedelta(days=1)
    return alt.Chart(table).mark_rect(color=BLUE).encode(
        x=alt.X("night:T", title="night (evening's date)", axis=alt.Axis(format="%-d %b", labelOverlap=True),
                scale=alt.Scale(type="utc", nice=False)), x2=alt.X2("after:T"),
        y=alt.Y("target:N", sort=order, title=None, axis=alt.Axis(labelLimit=120)),
        opacity=alt.Opacity("hours:Q", title="hours, if it is clear", scale=alt.Scale(
            domain=[0, max(1.0, float(table["hours"].max()))], range=[0.15, 1])),
        tooltip=[alt.Tooltip("night:T", title="night", format="%Y-%m-%d", formatType="utc"), "target:N", "filters:N"],
    ).properties(height=CALENDAR_HEAD + CALENDAR_ROW * len(order), description=(
        "A row for each project, a column for each night: the hours that the night gives it if it is clear."))
