"""The year: in which weeks targets are best, and which objects fit the rig this night or month."""

import calendar
import datetime
from dataclasses import dataclass, replace
from typing import Any

import pandas as pd
import streamlit as st
from astropy import units as u

from planner.charts.year import objects_frame, year_chart, year_frame
from planner.checks import Rule
from planner.errors import PlannerError
from planner.fields import document
from planner.files.csv_text import csv_text
from planner.files.json_text import json_text
from planner.files.projects.wanted import left_to_do, own_projects
from planner.files.targets.catalogue import all_objects
from planner.files.targets.stars import stars_around
from planner.rig import Filter
from planner.session.advice.answer import filter_named
from planner.session.worth.useful_hours import Cells
from planner.session.year.objects import FittingObjects, fitting_objects
from planner.session.year.season import Left, Season, SeasonTarget, dark_of, season
from planner.session.year.text import MONTHS, day_text, headline, sentences
from planner.ui import settings
from planner.ui.choices import Choice, Chosen, choose
from planner.ui.drawing import draw_once
from planner.ui.measure.uploads import gear
from planner.ui.night.targets import Wanted, ask_for_targets
from planner.ui.plain import plain

MOST_DRAWN = 12  # targets with a picture of their own
KINDS = ("any", "galaxy", "nebula", "cluster")
HOURS = Rule(at_least=0.1, at_most=10000, remedy="Give the hours, e.g. 12.")
COUNT = Rule(at_least=1, at_most=200, remedy="Give a number of objects, e.g. 20.")
NIGHT, MONTH = "this night", "this month"


@dataclass(frozen=True)
class YearForm:
    """The values of this page's own widgets, in plain texts and numbers."""

    targets: tuple[tuple[str, float | None], ...]
    stamp: str
    filter: str
    hours_left: float | None  # None: those of the projects


@dataclass(frozen=True)
class ObjectsForm:
    """The same, of the sweep through the catalogue."""

    filter: str
    nights: int
    kind: str
    count: int


# What all targets share; some 15 MB each.
@st.cache_resource(max_entries=6, show_spinner="Going through the year")
def dark_for(key: Choice, band: str, _chosen: Chosen) -> Cells:
    """Return the dark of the year; keyed on rig, site and night alone."""
    return dark_of(_chosen.rig, _chosen.site, _chosen.night, filter_named(_chosen.rig, band))


@st.cache_data(max_entries=100, show_spinner="Going through the year")
def season_for(key: Choice, form: YearForm, _chosen: Chosen, _wanted: Wanted) -> Season:
    """Return the season; the cache is keyed on what was chosen, in plain texts and numbers."""
    targets, band = [target for target, _ in _wanted.targets], filter_named(_chosen.rig, form.filter)
    left: list[Left | None] = [{band.name: (form.hours_left or 0) * u.h}] * len(targets)
    if form.hours_left is None:
        left = left_to_do(targets, own_projects())
    return season(targets, _chosen.rig, _chosen.site, _chosen.night, band=band, left=left,
                  lowest_altitude=_chosen.lowest_altitude,
                  cut=dark_for(replace(gear(_chosen.key), night=_chosen.key.night), band.name, _chosen),
                  stars_around=lambda place: stars_around(place, _chosen.rig))


@st.cache_data(max_entries=100, show_spinner="Going through the whole catalogue")
def fitting_for(key: Choice, form: ObjectsForm, _chosen: Chosen, _first: datetime.date) -> FittingObjects:
    """Return the sweep."""
    rig = _chosen.rig
    return fitting_objects(
        _catalogue(), rig, _chosen.site, _first, nights=form.nights, band=filter_named(rig, form.filter),
        lowest_altitude=_chosen.lowest_altitude, count=form.count, kind=None if form.kind == "any" else form.kind)


@st.cache_resource(show_spinner=False)
def _catalogue() -> Any:
    return all_objects()


def page() -> None:
    """Show the page."""
    chosen = choose()
    try:
        with st.expander("Targets, filter and limits"):
            wanted = ask_for_targets(chosen, "year", alone=True)
            band, hours = _limits(chosen)
        if wanted is None:
            st.info('No target is named. Write one under “Targets, filter and limits”.')
        else:
            form = YearForm(wanted.key, wanted.stamp, band.name, hours)
            of = replace(chosen.key, target=""), form
            _year(season_for(*of, chosen, wanted), of)
        _sweep(chosen, band)
    except PlannerError as error:
        st.error(plain(error))
        st.stop()


def _limits(chosen: Chosen) -> tuple[Filter, float | None]:
    columns = st.columns(2)
    name = settings.pick("filter", "Filter", [band.name for band in chosen.rig.filters], place=columns[0])
    hours = settings.number("hours", "Hours still to do in this filter", None, HOURS, place=columns[1],
                            placeholder="from my projects",
                            help="Equivalent hours, as a night's plan counts them; for the nights needed.")
    return filter_named(chosen.rig, name), hours


def _year(found: Season, of: tuple[Choice, YearForm]) -> None:
    """Show the season; `of`: the question that it answers."""
    st.header(plain(headline(found)), anchor=False)
    measure = found.measure
    st.caption(f"{len(found.dates)} nights from {day_text(found.dates[0])}, each named by its evening's date at the "
               f'site “{measure.site.name}” ({measure.site.time_zone}). Useful hours: beside the moonless zenith of '
               f"this site, on faint, fine detail through {measure.band.name}; moonlight and twilight count as "
               "brightness.")
    for note in found.notes:
        st.caption(plain(note))
    for place, row in enumerate(found.targets[:MOST_DRAWN]):
        _target(found, row, (*of, place))
    if len(found.targets) > MOST_DRAWN:
        st.caption(f"The first {MOST_DRAWN} of {len(found.targets)} targets are drawn; all are in the table.")
    if any(not row.reason for row in found.targets):
        st.caption("Columns: useful hours. Line: hours in the dark within the limits. Shaded area: hours of darkness. "
                   "Strip below: the Moon, strongest when full. Bar on top: the best fortnight.")
    st.subheader("Useful hours per night, mean of the month", anchor=False)
    months = _months(found)
    st.dataframe(months, hide_index=True, width="stretch", key="year_months",
                 alt="Useful hours per night by month.", column_config={
        "Target": st.column_config.TextColumn(pinned=True, width=90),
        **{name: st.column_config.NumberColumn(format="%.1f") for name in months.columns[1:]}})
    with st.container(horizontal=True, key="year_downloads"):
        st.download_button("Year (JSON)", lambda: json_text(document(found), "season"), "year.json",
                           "application/json", key="download_year", on_click="ignore")
        st.download_button("Year (CSV)", lambda: csv_text(year_frame(found)), "year.csv", "text/csv",
                           key="download_year_table", on_click="ignore")


def _target(found: Season, row: SeasonTarget, of: tuple[Choice, YearForm, int]) -> None:
    first, *more = sentences(row, found)
    st.markdown(f"**{plain(first)}** {plain(' '.join(more))}")
    if row.reason:
        if len(found.targets) == 1:
            st.info("Choose another target, a lower altitude limit, or another site.")
        return
    draw_once(st, lambda: year_chart(found, row), f"year_chart_{of[-1]}", of)


def _months(found: Season) -> pd.DataFrame:
    """Return the mean hours of each month as a table, with the dark time last."""
    months = found.months()
    names = [f"{MONTHS[month - 1]} {year}" for year, month in months]
    rows = [(row.target.name, row.useful.to_value(u.h)) for row in found.targets]
    rows.append(("dark", found.dark_hours.to_value(u.h)))
    return pd.DataFrame([{"Target": name, **{label: round(float(hours[places].mean()), 1) for label, places in
                                             zip(names, months.values(), strict=True)}} for name, hours in rows])


def _sweep(chosen: Chosen, band: Filter) -> None:
    """Show which objects fit the rig, and offer to take one as the target."""
    st.header("Objects that fit this rig", anchor=False)
    columns = st.columns(3)
    span = settings.pick("when", "When", [NIGHT, MONTH], place=columns[0], key="objects_span")
    kind = settings.pick("kind", "Kind", KINDS, place=columns[1], key="objects_kind")
    count = round(settings.number("count", "Objects to list", 20, COUNT, place=columns[2]) or 20)
    night = chosen.night
    first = night if span == NIGHT else night.replace(day=1)
    nights = 1 if span == NIGHT else calendar.monthrange(night.year, night.month)[1]
    form = ObjectsForm(band.name, nights, kind, count)
    found = fitting_for(replace(chosen.key, target="", night=first.isoformat()), form, chosen, first)
    if not len(found.objects):
        st.info("Nothing: no object that fits the field is up in the dark. Choose another night, filter or kind, or a "
                "lower altitude limit.")
        return
    _ranking(found)
    _take(found)
    with st.container(horizontal=True, key="objects_downloads"):
        st.download_button("Ranking (JSON)", lambda: json_text(document(found), "objects"), "objects.json",
                           "application/json", key="download_objects", on_click="ignore")
        st.download_button("Ranking (CSV)", lambda: csv_text(objects_frame(found)), "objects.csv", "text/csv",
                           key="download_objects_table", on_click="ignore")


def _ranking(found: FittingObjects) -> None:
    """Show the ranked table and the figure that it is ranked on."""
    table = objects_frame(found)
    shown = pd.DataFrame({
        "Object": table["name"], "Score": table["figure"], "Also": [found.also(at) for at in range(len(table))],
        "Kind": table["kind"],
        "Useful (h)": table["useful_h"],
        "Needed (min)": [max(1.0, float(f"{60 * hours:.2g}")) for hours in table["time_needed_h"]],
        "Brightness": table["brightness_assumed"].map({True: "assumed", False: "catalogue"}),
        "Up (h)": table["up_h"], "Fit": table["fit"], "Size (′)": table["size_arcmin"]})
    formats = {"Useful (h)": "%.1f", "Up (h)": "%.1f", "Fit": "%.2f", "Size (′)": "%.0f"}
    st.dataframe(shown, hide_index=True, width="stretch", key="objects_table",
                 alt="Objects that fit this rig, ranked.", column_config={
        "Object": st.column_config.TextColumn(pinned=True, width=90),
        "Score": st.column_config.ProgressColumn(min_value=0.0, max_value=1.0, format="%.2f", width=110),
        "Also": st.column_config.TextColumn(width=205), "Kind": st.column_config.TextColumn(width=125),
        **{name: st.column_config.NumberColumn(format=text) for name, text in formats.items()}})
    width, height = (side.to_value(u.deg) for side in found.field)
    left = ", ".join(f"{number} {why}" for why, number in found.left_out.items())
    st.caption(
        "Ranked by the score: fit × hours / hours of the best placed × hours / (hours + hours needed). Fit: 1 where "
        f"the object fills 30 to 90 % of the field ({width:.2f}° × {height:.2f}°). Needed: useful minutes, 1 at "
        f"least, to a signal-to-noise of {found.signal_to_noise:g} on 25 square arcseconds; where the catalogue gives "
        f"no brightness a typical one is assumed. {found.considered} objects considered; left out: {left}.")


def _take(found: FittingObjects) -> None:
    columns = st.columns([3, 2], vertical_alignment="bottom")
    also = dict(zip(found.objects.name.astype(str), found.objects.common_name.astype(str), strict=True))
    columns[0].selectbox("One of these", list(also), key="objects_taken",
                         format_func=lambda name: f"{name} ({also[name]})" if also[name] else name)
    columns[1].button("Take it as the target", key="objects_take", on_click=_make_it_the_target)


def _make_it_the_target() -> None:
    name = st.session_state["objects_taken"]
    st.session_state["choice_target"] = st.session_state["typed_target"] = name
