"""The top of the page "Tonight": what runs, what is next, and what the night brings; it follows the clock."""

import datetime
from collections.abc import Callable, Hashable
from concurrent.futures import Future
from dataclasses import replace

import streamlit as st
from astropy import units as u
from astropy.time import Time

from planner.charts.night import timeline_chart
from planner.errors import PlannerError
from planner.files.targets.stars import stars_around
from planner.session.advice.first_light import FirstLight, first_light_for
from planner.session.advice.text import depth_text
from planner.session.night.model import NightPlan
from planner.session.night.now import Brought, brought, now_in
from planner.ui.choices import Choice, Chosen
from planner.ui.drawing import draw_once
from planner.ui.lines import WAITING
from planner.ui.measure.uploads import gear
from planner.ui.night.limits import moment_asked
from planner.ui.outside import ask
from planner.ui.plain import plain
from planner.ui.theme import keep_paper
from planner.ui.waiting import answered
from planner.visibility.clock import evening_date, local_time, utc_text

EVERY_S = 20  # between two looks at the clock
LINE_EVERY_S = 120  # the same, of the line in the timeline


def now() -> datetime.datetime:
    """Return this moment."""
    return datetime.datetime.now(datetime.UTC)


@st.fragment(run_every=LINE_EVERY_S)
def show_timeline(plan: NightPlan, of: Hashable) -> None:
    """Show the plan as a timeline with this minute in it; `of`: the question that the plan answers."""
    keep_paper()
    minute = now().replace(second=0, microsecond=0)
    draw_once(st, lambda: timeline_chart(plan, minute), "tonight_timeline", (of, minute))


@st.fragment(run_every=EVERY_S)
def show_now(plan: NightPlan) -> None:
    """Show the plan at this moment, anew as time goes by; nothing for a night that is neither now nor next."""
    if st.session_state.pop("plan_anew", False):
        st.rerun()
    moment = now()
    if (plan.date - evening_date(moment, plan.site)).days not in (0, 1):
        return
    found = now_in(plan, Time(moment))
    with st.container(border=True, key="now"):
        left, right = st.columns([3, 2])
        with left:
            following = found.following
            st.caption(f"Now {local_time(Time(moment), plan.site):%H:%M} · next")
            if following is None:
                st.subheader("Nothing more to do", anchor=False)
            else:
                st.subheader(plain(f"{following.wait[:1].upper()}{following.wait[1:]}: {following.what}"),
                             anchor=False)
                st.caption(plain(f"at {following.at}"))
            st.markdown(f"**Running:** {plain(found.running)}")
        with right:
            rows = [f"{coming.at}  {plain(coming.what)}, {coming.wait}" for coming in found.sky[:6]]
            st.markdown("  \n".join(rows) or "Nothing more comes this night.")
    _again(plan, moment)


def _again(plan: NightPlan, moment: datetime.datetime) -> None:
    """Offer to plan the rest of the night from now, or the whole of it again, or the night after or before."""
    day = datetime.timedelta(days=1)
    asked, end = moment_asked("from", plan.site, plan.date), plan.night.sunrise or plan.night.end
    with st.container(horizontal=True, vertical_alignment="center"):
        if plan.night.start < Time(moment) < end:
            st.button("Plan again from now", key="tonight_again", on_click=_start_from, args=(utc_text(Time(moment)),),
                      help="After a cloud or a late start: what is left of the night, from this minute on.")
        elif Time(moment) >= end:
            st.button("Show the coming night", key="tonight_coming", on_click=_show_night,
                      args=(plan.date + day,))
        elif plan.date > evening_date(moment, plan.site):
            st.button("Show the night just over", key="tonight_over", on_click=_show_night, args=(plan.date - day,))
        if asked is not None:
            st.button("Plan the whole night", key="tonight_whole", on_click=_start_from, args=(None,))
            st.caption(f"Planned from {local_time(asked, plan.site):%H:%M} on.")


def _show_night(night: datetime.date) -> None:
    st.session_state["choice_night"] = night
    st.session_state["plan_anew"] = True


def _start_from(moment: str | None) -> None:
    st.session_state["choice_from"] = moment
    st.session_state["plan_anew"] = True


def show_brought(plan: NightPlan) -> None:
    """Show what the night brings for each target and filter."""
    rows = brought(plan)
    if rows:
        st.subheader("What the night brings", anchor=False)
        st.dataframe([_brought_row(row) for row in rows], hide_index=True, width="stretch", height="content",
                     key="tonight_brings", alt="Hours that count, by target and filter.")
        st.caption("In equivalent hours: those of a perfect camera and mount with the target in the zenith of a dark, "
                   "moonless sky. Reached: the faintest surface at this signal-to-noise (S/N) on 25 arcsec² by all of "
                   "these hours. Wide stars, flips and focus make them fewer, so the advice's depth, of a surface in "
                   "all of the window, is somewhat fainter. Deeper: how much fainter than before tonight.")


def _brought_row(row: Brought) -> dict[str, str]:
    after = (row.before + row.gained).to_value(u.h)
    wanted = "" if row.wanted is None else f" of {row.wanted.to_value(u.h):.1f}"
    return {"Target": row.target, "Filter": row.band, "Tonight (h)": f"{row.gained.to_value(u.h):.1f}",
            "Then has (h)": f"{after:.1f}{wanted}",
            "Then reaches": f"{depth_text(row.depth)} at S/N {row.depth.signal_to_noise:g}",
            "Deeper": "first hours" if row.deeper is None else f"{row.deeper.value:.1f} mag"}


@st.cache_resource(max_entries=50, show_spinner=False)
def _asked_for(key: Choice, target: str, band: str, _chosen: Chosen, _plan: NightPlan) -> Future[FirstLight | None]:
    """Return what to measure next for the first block of the plan, to come."""
    block = _plan.blocks[0]
    return ask(first_light_for, block.target, _chosen.rig, _chosen.site, _plan.date, band=block.band,
               stars=stars_around(block.target, _chosen.rig))


def show_measure_next(plan: NightPlan, chosen: Chosen) -> Callable[[], None]:
    """Show the one measurement that would serve the verdict most; return what fills it in, which takes longest."""
    block = plan.blocks[0]
    st.subheader("One thing to measure next", anchor=False)
    place = st.empty()
    place.markdown(WAITING)
    future = _asked_for(replace(gear(chosen.key), night=chosen.key.night), block.target.name, block.band.name, chosen,
                        plan)

    def finish() -> None:
        try:
            found = answered(future, _asked_for)
        except PlannerError as error:
            place.error(plain(error))
            return
        place.markdown("" if found is None else plain(f"{found.verdict}. {found.sentence}"))

    return finish
