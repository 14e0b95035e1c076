"""Projects: the targets of one's own, with the hours wanted, had and left through each filter."""

from collections.abc import Mapping
from concurrent.futures import Future
from functools import partial
from typing import Any

import pandas as pd
import streamlit as st
from astropy import units as u

from planner.charts.year import calendar_chart, calendar_frame
from planner.checks import Rule
from planner.errors import PlannerError
from planner.files.csv_text import csv_text
from planner.files.forms.typed import typed_number
from planner.files.projects import ProjectFile, load_projects
from planner.files.projects.edit import set_wanted
from planner.files.projects.load import name_key
from planner.files.projects.wanted import own_projects
from planner.files.targets import find_each
from planner.files.targets.stars import stars_around
from planner.files.writing import version_kept
from planner.rig import Rig
from planner.session.campaign.ahead import plan_ahead
from planner.session.campaign.answer import COLUMNS, project_rows
from planner.session.campaign.outlook import advice, weather_line
from planner.session.projects.default_request import default_request
from planner.session.projects.project import Project
from planner.ui import whose
from planner.ui.choices import Choice, Chosen, choose, say_after, show_said
from planner.ui.drawing import draw
from planner.ui.night.targets import say_unknown, targets_of_projects
from planner.ui.outside import ask
from planner.ui.plain import plain
from planner.ui.settings import edited
from planner.ui.waiting import answered

LARGEST_LIST_MB = 1
TARGET, FILTER, WANTED, HAS, LEFT = "Target", "Filter", "Wanted (h)", "Has (h)", "Left (h)"
HOURS = Rule(at_least=0, at_most=10000, remedy="Give hours, e.g. 8; 0 takes the wish back.")
MOST_FORECAST = 60  # projects that the forecast takes


def page() -> None:
    """Show the page."""
    chosen = choose()
    try:
        own = own_projects()
        demo = own is None and chosen.equipment.is_demo
        shown = load_projects(None) if demo else own
    except PlannerError as error:
        st.error(plain(error))
        return
    whose.about("projects", demo, "the demo's projects, not yours" if demo else "your projects")
    projects = () if shown is None else shown.projects
    st.header(_headline(projects), anchor=False)
    show_said("projects_said")
    if projects:
        _table(projects, chosen.rig, locked=demo)
        _forecast(chosen, shown)
    if not demo:
        _add(chosen)
    else:
        st.caption('The demo\'s projects cannot be changed. Describe your own equipment under “Set up, step by step”, '
                   "and yours are kept beside it.")


def _headline(projects: tuple[Project, ...]) -> str:
    left = sum(float(item.left(band).value) for item in projects for band in item.wanted)
    return (f"{len(projects)} project{'s' if len(projects) > 1 else ''}, {left:.1f} equivalent hours left" if projects
            else "No projects yet")


def _rows(projects: tuple[Project, ...]) -> pd.DataFrame:
    return pd.DataFrame([{
        TARGET: item.target, FILTER: band, WANTED: f"{item.wanted_time(band).value:.4g}",
        HAS: round(float(item.counted_time(band).value), 2), LEFT: round(float(item.left(band).value), 2),
    } for item in projects for band in item.filters])


def _table(projects: tuple[Project, ...], rig: Rig, *, locked: bool) -> None:
    """Show all hours in a table whose wishes can be changed, and save them when asked."""
    rows = _rows(projects)
    bands = list(dict.fromkeys([*(band.name for band in rig.filters), *rows[FILTER]]))
    st.data_editor(
        rows, key="projects_table", on_change="ignore", hide_index=True, width="stretch",
        alt="Hours wanted, done and left, by target and filter.",
        num_rows="fixed" if locked else "dynamic", disabled=True if locked else [HAS, LEFT], column_config={
            TARGET: st.column_config.TextColumn(required=True, pinned=True),
            FILTER: st.column_config.SelectboxColumn(options=bands, required=True),
            WANTED: st.column_config.TextColumn(),
            HAS: st.column_config.NumberColumn(format="%.1f"), LEFT: st.column_config.NumberColumn(format="%.1f")})
    st.caption("Equivalent hours, those that a night's plan counts." + ("" if locked else (
        " A line may be added at the end, changed or removed; what is recorded stays.")))
    if not locked:
        st.button("Save the table", type="primary", key="projects_save", on_click=_save, args=(projects,))


def _save(projects: tuple[Project, ...]) -> None:
    """Write what was changed in the table, unless the file has it otherwise by now; one taken out wants nothing."""
    rows = _rows(projects).to_dict("records")
    try:
        own = own_projects()
        before, now = (_wanted(_rows(held).to_dict("records"), projects) for held in (
            projects, () if own is None else own.projects))
        after = _wanted(edited(rows, "projects_table"), projects)
    except PlannerError as error:
        say_after("projects_said", str(error), done=False)
        return
    changed = {name: after.get(name, {}) for name in before | after if after.get(name, {}) != before.get(name, {})}
    moved = [name for name in changed if now.get(name, {}) != before.get(name, {})]
    if moved:
        st.session_state.pop("projects_table", None)
        say_after("projects_said", f"Nothing was saved: {', '.join(moved)} was changed elsewhere, in another window or "
                  "an editor. The table shows the file as it is now; change it again.", done=False)
        return
    _, unknown = find_each([name for name in changed if name not in before])
    _write({name: hours for name, hours in changed.items() if name not in unknown}, unknown, "Saved")


def _wanted(rows: list[dict[str, Any]], projects: tuple[Project, ...]) -> dict[str, dict[str, u.Quantity]]:
    """Return the hours that rows of the table want by target, as the file names it, and filter."""
    spelled, found = {name_key(item.target): item.target for item in projects}, dict[str, dict[str, u.Quantity]]()
    for row in rows:
        target, band, text = (row.get(name) for name in (TARGET, FILTER, WANTED))
        if isinstance(target, str) and isinstance(band, str) and text:
            hours = typed_number(f"{WANTED}, {target}, {band}", text, HOURS)
            wanted = found.setdefault(spelled.get(name_key(target), target.strip()), {})
            wanted |= {band: hours * u.h} if hours > 0 else {}
    return found


def _write(wanted: Mapping[str, Mapping[str, u.Quantity]], unknown: Mapping[str, Any], done: str) -> None:
    try:
        path = set_wanted(None, wanted)
    except PlannerError as error:
        say_after("projects_said", str(error), done=False)
        return
    st.session_state["projects_unknown"] = dict(unknown)
    st.session_state.pop("projects_table", None)
    say_after("projects_said", f"{done} in {path.name}{version_kept(path)}.")


def _add(chosen: Chosen) -> None:
    """Show the field and the uploader for new targets."""
    st.subheader("Add targets", anchor=False)
    say_unknown(st.session_state.get("projects_unknown", {}))
    left, right = st.columns([3, 2])
    left.text_area("Names, one a line", key="projects_names", height=140, placeholder="e.g. NGC 7331",
                   help="Catalogue numbers, common names or coordinates; a thousand lines will do.")
    given = right.file_uploader("Or a list", type=["csv", "txt"], key="projects_list", help="One name a line; only the "
                                "first column is read.", max_upload_size=LARGEST_LIST_MB)
    right.caption(plain("Each gets what one usually wants of its kind with the filters of the rig "
                        f'“{chosen.rig.name}”: balanced colours for galaxies and clusters, lines for nebulae. Change '
                        "it in the table."))
    st.button("Add them", key="projects_add", on_click=_take, args=(chosen.rig, given))


def _take(rig: Rig, given: Any) -> None:
    """Make a project of each name that is known and has none; the others are told together."""
    text = st.session_state.get("projects_names") or ""
    if given is not None:
        text += "\n" + given.getvalue().decode("utf-8-sig", errors="replace")
    names = [line.split(",")[0].split(";")[0].strip() for line in text.splitlines()]
    found, unknown = find_each(name for name in names if name.lower() not in ("", "name", "target"))
    own = own_projects()
    there = {name_key(item.target) for item in (own.projects if own is not None else ())}
    wanted = {target.name: {need.band.name: need.hours for need in default_request(target, rig).needs
                            if need.hours is not None}
              for target in found.values() if name_key(target.name) not in there}
    st.session_state["projects_names"] = "\n".join(unknown)
    if not found and not unknown:
        say_after("projects_said", "Names = none: must be at least one. Write one a line.", done=False)
        return
    again = len(found) - len(wanted)
    _write(wanted, unknown, f"{len(wanted)} added{f', {again} were there' if again else ''}")


# Shared, not copied: equal questions wait for one answer, worked out outside the pages' process.
@st.cache_resource(max_entries=20, show_spinner=False)
def forecast_for(key: Choice, stamp: str, _chosen: Chosen, _projects: ProjectFile) -> Future[Any]:
    """Return tonight's plan and the campaign to come, which tells what becomes of each project."""
    rig, requests = _chosen.rig, targets_of_projects(_projects, _chosen.rig)[:MOST_FORECAST]
    return ask(plan_ahead, requests, rig, _chosen.site, _chosen.night, lowest_altitude=_chosen.lowest_altitude,
               stars_around=partial(stars_around, rig=rig))


def _forecast(chosen: Chosen, shown: ProjectFile | None) -> None:
    """Offer the forecast, which takes some seconds."""
    if shown is None or not st.toggle("When will they be finished?", key="projects_forecast"):
        return
    try:
        stamp = f"{shown.path}@{shown.path.stat().st_mtime_ns}"
        with st.spinner("Going through the coming nights"):
            plan, found = answered(forecast_for(chosen.key, stamp, chosen, shown), forecast_for)
    except PlannerError as error:
        st.error(plain(error))
        return
    nights = calendar_frame(found, plan)
    outlook = [dict(zip(COLUMNS, row, strict=True)) for row in project_rows(found)]
    st.dataframe(outlook, hide_index=True, width="stretch",
                 key="projects_outlook", alt="Chance and date of each project's end.")
    st.caption(plain(weather_line(found)))
    for line in advice(found):
        st.markdown(plain(line))
    if len(nights):
        st.subheader("Which night for what", anchor=False)
        draw(st, calendar_chart(nights), "projects_calendar")
        st.download_button("Calendar (CSV)", lambda: csv_text(nights), "campaign.csv", "text/csv",
                           key="download_calendar", on_click="ignore")
