"""Tonight: which targets in which order, as a timeline, a table, and the sky above the observer."""

import datetime
from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import pandas as pd
import streamlit as st
from astropy import units as u

from planner.charts.night import altitude_chart, altitude_frame, timeline_frame
from planner.charts.sky_map import dome_chart, field_chart, field_frame, skyline_frame, track_frame
from planner.checks import Rule
from planner.errors import PlannerError
from planner.fields import document
from planner.files.csv_text import csv_text
from planner.files.json_text import json_text
from planner.files.plans.calendar import night_calendar
from planner.files.plans.sheet import night_sheet_html
from planner.files.plans.table import plan_csv
from planner.files.projects.wanted import own_projects, requests_for
from planner.files.targets.stars import stars_around
from planner.rig import Rig
from planner.rig.choices import Side
from planner.session.advice.sky_field import SkyField, camera_words, guide_words, panel_words, pick_off_words, sky_field
from planner.session.advice.text import size_source
from planner.session.campaign.ahead import AHEAD_COLUMNS, NightAnswer, ahead_cells, ahead_head, ahead_rows, plan_ahead
from planner.session.campaign.campaign import Campaign
from planner.session.night.limits import through
from planner.session.night.model import NightPlan
from planner.session.night.plan import plan_night
from planner.session.night.report.sheet import Sheet, SheetRow, night_sheet
from planner.session.night.report.words import good_text, headline, unplanned, worth_text
from planner.session.night.sky import NightSky, night_sky
from planner.ui import settings
from planner.ui.choices import Choice, Chosen, choose
from planner.ui.drawing import draw_once
from planner.ui.night.limits import LimitsAsked, ask_for_limits
from planner.ui.night.now import show_brought, show_measure_next, show_now, show_timeline
from planner.ui.night.record import record
from planner.ui.night.targets import Wanted, ask_for_targets
from planner.ui.outside import ask
from planner.ui.plain import plain
from planner.ui.theme import keep_paper
from planner.ui.waiting import answered
from planner.visibility.target import Target

WIDTHS = {"From": 60, "To": 60, "Filter": 55, "Subs": 85}  # of columns: on a phone these and the target are in view
LONGEST = 60  # letters of a remark in the table
ANGLE = Rule(at_least=-360, at_most=360, remedy="Give degrees, e.g. 90.")


@dataclass(frozen=True)
class NightForm:
    """The values of this page's own widgets, in plain texts and numbers."""

    targets: tuple[tuple[str, float | None], ...]
    stamp: str
    limits: tuple[float, str, str, str, tuple[str, ...]]  # of `LimitsAsked`


# Shared, not copied: equal questions wait for one answer, worked out outside the pages' process.
@st.cache_resource(max_entries=100, show_spinner=False)
def asked_for(key: Choice, form: NightForm, _chosen: Chosen, _wanted: Wanted, _set: LimitsAsked) -> Future[Any]:
    """Return the plan to come, with the season it looks ahead to where projects are one's own.

    The cache is keyed on what was chosen, in plain texts and numbers.
    """
    rig, projects = _chosen.rig, own_projects()
    requests = requests_for(_wanted.targets, rig, projects)
    if _set.only:
        requests = through(requests, _set.only, rig, called="Filters for this night")
    ahead = projects is not None and any(item.wanted for item in projects.projects)
    return ask(
        plan_ahead if ahead else plan_night, requests, rig, _chosen.site, _chosen.night,
        lowest_altitude=_chosen.lowest_altitude, minimum_block=_set.stay_min * u.min, limits=_set.limits,
        stars_around=partial(stars_around, rig=rig))


def plan_for(key: Choice, form: NightForm, chosen: Chosen, wanted: Wanted, limits: LimitsAsked
             ) -> tuple[NightPlan, Campaign | None]:
    """Return the plan, and the season where it looks ahead; who changes a choice while it waits starts anew."""
    future = asked_for(key, form, chosen, wanted, limits)
    with st.spinner("Planning the night: a change of any choice starts anew"):
        found = answered(future, asked_for)
    return (found, None) if isinstance(found, NightPlan) else found


@st.cache_data(max_entries=100, show_spinner=False)
def sky_for(key: Choice, form: NightForm, names: tuple[str, ...], _plan: NightPlan) -> NightSky:
    """Return the sky of the night for targets of the plan."""
    targets = {outlook.request.target.name: outlook.request.target for outlook in _plan.outlooks}
    return night_sky(_plan, [targets[name] for name in names])


@st.cache_data(max_entries=100, show_spinner=False)
def field_for(key: Choice, form: NightForm, name: str, angle_deg: float | None, _target: Target, _rig: Rig
              ) -> SkyField:
    """Return the field of one target, with the panels that it takes."""
    return sky_field(_target, _rig, stars_around(_target, _rig),
                     camera_angle=None if angle_deg is None else angle_deg * u.deg)


def page() -> None:
    """Show the page."""
    chosen = choose()
    key = replace(chosen.key, target="")  # the targets are in the form: another one above must not plan again
    try:
        with st.expander("Targets and limits"):
            wanted, limits = ask_for_targets(chosen, "tonight"), ask_for_limits(chosen)
        if wanted is None:
            st.info('No target is named. Write one under “Targets and limits”.')
            return
        form = NightForm(wanted.key, wanted.stamp, limits.key)
        plan, season = plan_for(key, form, chosen, wanted, limits)
    except PlannerError as error:
        st.error(plain(error))
        st.stop()
    sheet = night_sheet(plan)
    st.header(plain(headline(plan)), anchor=False)
    show_now(plan)
    _night(sheet, plan)
    finish = None
    if plan.blocks:
        _plan(plan, sheet, key, form)
        _season(plan, season)
        show_brought(plan)
        finish = show_measure_next(plan, chosen)
    else:
        st.info(plain(f"{plan.reason} Choose another night, other targets, a lower altitude limit, or another site."))
    _not_tonight(plan)
    _sky(key, form, plan)
    _field(key, form, plan, chosen)
    _downloads(plan, season)
    if plan.blocks:
        record(plan, chosen)
    if finish is not None:
        finish()


def _night(sheet: Sheet, plan: NightPlan) -> None:
    """Show Sun and Moon, with the zone of all times."""
    zone = f"{sheet.zone} ({plan.site.time_zone})" if sheet.zone else f"the zone given ({plan.site.time_zone})"
    lines = [f"**{name}** {plain(text)}" for name, text in sheet.facts]
    st.markdown("  \n".join([*lines, f"All times in {zone}."]))
    if not plan.blocks:  # else they stand beside the plan
        for note in plan.notes:
            st.caption(note)


def _plan(plan: NightPlan, sheet: Sheet, key: Choice, form: NightForm) -> None:
    st.subheader("The plan", anchor=False)
    show_timeline(plan, (key, form))
    st.caption("Bars: whole subs, with their number and length. Ticks in them: focus. Diamond: flip of the mount. Thin "
               "and plain: slew and centring, or a change of filter. Thick and plain: calibration frames, the Moon up. "
               "Dashed line: now. The paper's shade deepens with civil, nautical and astronomical twilight.")
    table = _table(sheet)
    widths = WIDTHS if sheet.zone else WIDTHS | {"From": 95, "To": 95}  # where each time names its zone
    st.dataframe(table, hide_index=True, width="stretch", height="content", key="tonight_table",
                 alt="The plan: what is done from when to when.",
                 column_config={name: st.column_config.TextColumn(width=width) for name, width in widths.items()})
    told = [f"{row.kind.capitalize()} {row.start} to {row.end}: {row.what}." for row in sheet.rows if _is_long(row)]
    st.markdown("\n".join(f"- {plain(line)}" for line in (*sheet.flips, *told, *sheet.cautions)))
    st.markdown(plain(f"{good_text(plan)} {worth_text(plan)}"))


def _table(sheet: Sheet) -> pd.DataFrame:
    rows = [{"From": row.start, "To": row.end, "What": row.what if row.kind == "block" else row.kind,
             "Filter": row.band, "Subs": row.subs, "Telescope": f"{row.side} of the pier" if row.side else "",
             "Altitude": row.altitude, "Remarks": "see below" if _is_long(row) else row.small or row.what}
            for row in sheet.rows]
    return pd.DataFrame(rows)


def _is_long(row: SheetRow) -> bool:
    """Say whether what a row says would be cut in the table, and is told below it."""
    return row.kind != "block" and len(row.what) > LONGEST


def _season(plan: NightPlan, season: Campaign | None) -> None:
    if season is not None:
        with st.expander("Tonight as part of the season: what goes now, what waits, and why"):
            st.caption(plain(f"{ahead_head(season)}."))
            names = [name[:1].upper() + name[1:] for name in AHEAD_COLUMNS]
            st.dataframe([dict(zip(names, row, strict=True)) for row in ahead_cells(ahead_rows(season, plan))],
                         hide_index=True, width="stretch", key="tonight_season",
                         alt="Hours tonight and later, by target and filter, and why.")


def _not_tonight(plan: NightPlan) -> None:
    rows = unplanned(plan)
    if rows:
        st.subheader("Not in tonight's plan", anchor=False)
        st.markdown("\n".join(f"- **{plain(name)}**: {plain(reason)}" for name, reason in rows))


@st.fragment
def _sky(key: Choice, form: NightForm, plan: NightPlan) -> None:
    """Show where targets and Moon stand; a change in here draws nothing else anew."""
    keep_paper()
    st.subheader("The sky tonight", anchor=False)
    every = [outlook.request.target.name for outlook in plan.outlooks]
    planned = list(dict.fromkeys(block.target.name for block in plan.blocks))
    rising = [outlook.request.target.name for outlook in plan.outlooks if outlook.reach.window.maximum_altitude > 0]
    drawn = st.multiselect("Targets to draw", every, default=planned or rising[:4],
                           key=f"tonight_drawn_{hash((key, form))}")
    of = (key, form, tuple(drawn))
    sky = sky_for(*of, plan)
    left, right = st.columns(2)
    with left:
        draw_once(st, lambda: altitude_chart(sky), "tonight_altitude", of)
        st.caption("Thick: planned. Thin: nothing in the way. Dotted: behind the skyline, below the lowest altitude, "
                   "or too near the zenith for the mount. Tick: the meridian. Diamond: flip. Dashed: the Moon.")
    with right:
        draw_once(st, lambda: dome_chart(sky), "tonight_dome", of, width="content")
        skyline = "" if plan.site.horizon is None else ", your skyline filled in"
        st.caption(f"The zenith in the middle, north up, east to the left; circles every 30°{skyline}. "
                   "Dots: full hours. Dashed: the meridian; dotted: the lowest altitude and the zenith keep-out.")
    _offer([("Altitudes (CSV)", lambda: csv_text(altitude_frame(sky)), "altitudes.csv", "text/csv"),
            ("Tracks (CSV)", lambda: csv_text(track_frame(sky)), "tracks.csv", "text/csv"),
            ("Skyline (CSV)", lambda: csv_text(skyline_frame(sky)), "skyline.csv", "text/csv")])


@st.fragment
def _field(key: Choice, form: NightForm, plan: NightPlan, chosen: Chosen) -> None:
    """Show the field of one target; a change in here draws nothing else anew."""
    st.subheader("In the camera's field", anchor=False)
    targets = {outlook.request.target.name: outlook.request.target for outlook in plan.outlooks}
    first = plan.blocks[0].target.name if plan.blocks else next(iter(targets))
    columns = st.columns(2)
    name = columns[0].selectbox("Target in the field", list(targets), index=list(targets).index(first),
                                key=f"tonight_field_{hash((key, form))}")
    angle = settings.number("angle", "Position angle of the picture's top (°)", None, ANGLE, place=columns[1],
                            placeholder="as drawn below",
                            help="From north through east, with the telescope west of the pier.")
    field = field_for(key, form, name, angle, targets[name], chosen.rig)
    left, right = st.columns(2)
    draw_once(left, lambda: field_chart(field), "tonight_field_chart", (key, form, name, angle), width="content")
    with right:
        _about_the_field(field, chosen, plan.sides(field.target))
        _offer([("Field (CSV)", lambda: csv_text(field_frame(field)), "field.csv", "text/csv")])


def _about_the_field(field: SkyField, chosen: Chosen, sides: tuple[tuple[Side, Side], ...]) -> None:
    """Say what the picture of the field shows; `sides` of the pier on which the target is planned."""
    told: tuple[tuple[Side, Side], ...] = (("west", "west"),) if len(field.top) > 1 else (("", ""),)
    lines = [f"Outline: the camera, {camera_words(field, told)}."]
    if len(field.top) > 1:
        lines[0] += " The flip turns the picture by 180°: its outline stays, its top goes over to the other side."
        if sides:
            lines.append(f"As planned: {camera_words(field, sides)}.")
    if field.ellipse is not None:
        angle = "" if field.target.position_angle is not None else " The direction of its long axis is not known."
        lines.append(f"Dashed: the target's size ({size_source(field.target)}).{angle}")
    else:
        lines.append("No size of this target is known.")
    lines += panel_words(field)
    if chosen.rig.guider is None:
        lines.append("This rig has no guider.")
    lines += guide_words(field)
    if field.shaded:
        st.warning(plain(pick_off_words(field)))
    elif field.pick_off is not None:
        lines.append(pick_off_words(field))
    if len(field.star_magnitudes) == 0:
        lines.append("No stars drawn: the star catalogue is not installed; it is the extra “stars” of this package.")
    else:
        lines.append("Dots: real stars of the catalogue to G 10, larger when brighter.")
    st.markdown("\n".join(f"- {plain(line)}" for line in lines))


def _downloads(plan: NightPlan, season: Campaign | None) -> None:
    st.subheader("Take it with you", anchor=False)
    name = f"night_{plan.date.isoformat()}"
    _offer([
        ("Night sheet to print (HTML)", lambda: night_sheet_html(plan), f"{name}.html", "text/html"),
        ("Calendar (ICS)", lambda: night_calendar(plan, now=datetime.datetime.now(datetime.UTC)), f"{name}.ics",
         "text/calendar"),
        ("Blocks (CSV)", lambda: plan_csv(plan), f"{name}.csv", "text/csv"),
        ("Result (JSON)", lambda: json_text(document(NightAnswer(plan, season)), "night"), f"{name}.json",
         "application/json"),
        ("Timeline (CSV)", lambda: csv_text(timeline_frame(plan)), "timeline.csv", "text/csv"),
    ])


def _offer(files: list[tuple[str, Callable[[], str], str, str]]) -> None:
    """Show a row of buttons for files, each of which is made when asked for."""
    with st.container(horizontal=True):
        for label, text, file, kind in files:
            st.download_button(label, text, file, kind, key=f"download_tonight_{label}", on_click="ignore")
