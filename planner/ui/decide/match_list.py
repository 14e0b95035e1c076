"""The list below the choice of a combination: the best set-up for each project and for all, and what to buy for it."""

from collections.abc import Sequence
from concurrent.futures import Future
from dataclasses import replace

import pandas as pd
import streamlit as st

from planner.errors import PlannerError
from planner.files.projects import ProjectFile, load_projects
from planner.files.projects.wanted import own_projects, wishes_of
from planner.files.targets.stars import stars_around
from planner.rig import Rig, Site
from planner.session.campaign.campaign import CLEAR
from planner.session.match.purchase import Saving, worth_buying, year_hours
from planner.session.match.wishes import Served, serve
from planner.session.match.wishes_text import (
    BUY_COLUMNS,
    COLUMNS,
    buy_text,
    list_headline,
    list_rows,
    list_text,
    saving_row,
)
from planner.ui.choices import Choice, Chosen
from planner.ui.outside import ask
from planner.ui.plain import curled, plain
from planner.ui.waiting import answered


# Shared like the set-ups of a target, and worked out outside the pages' process.
@st.cache_resource(max_entries=20, show_spinner=False)
def list_for(key: Choice, mount: str, guider: str, seeing: float, stamp: str, as_good: float, _chosen: Chosen,
             _rig: Rig, _site: Site, _projects: ProjectFile) -> Future[tuple[Served, ...]]:
    """Return the list with its set-ups to come; the cache is keyed on what was chosen, in plain texts and numbers."""
    return ask(serve, _chosen.equipment, _rig, _site, wishes_of(_projects, _rig), stars_around=stars_around,
               as_good=as_good)


@st.cache_resource(max_entries=20, show_spinner=False)
def savings_for(key: Choice, mount: str, guider: str, seeing: float, stamp: str, as_good: float, _chosen: Chosen,
                _rig: Rig, _site: Site, _served: Sequence[Served]) -> tuple[Future[tuple[Saving, ...]], Future[float]]:
    """Return what each candidate would save and the hours of a year, both to come."""
    return (ask(worth_buying, _chosen.equipment, _rig, _site, _served, stars_around=stars_around),
            ask(year_hours, _served, _rig, _site, _chosen.night, clear=CLEAR))


def show_list(chosen: Chosen, rig: Rig, site: Site, as_good: float) -> None:
    """Offer the answers over the whole list of projects, which take some seconds."""
    st.subheader("Over all my projects", anchor=False)
    if not st.toggle("Which set-up for each of them, and which one for all?", key="match_list"):
        return
    try:
        own = own_projects()
        if own is None and not chosen.equipment.is_demo:
            st.info("There are no projects of yours yet: add them on the page “Projects”.")
            return
        shown = load_projects(None) if own is None else own
        stamp = f"{shown.path}@{shown.path.stat().st_mtime_ns}"
        asked = (replace(chosen.key, target=""), rig.mount.name, "" if rig.guider is None else rig.guider.name,
                 float(site.seeing.value), stamp, as_good, chosen, rig, site)
        with st.spinner("Going through your projects"):
            served = answered(list_for(*asked, shown), list_for)
        st.markdown(f"**{plain(list_headline(served))}**")
        st.dataframe(_table(COLUMNS, list_rows(served)), hide_index=True, width="stretch", key="match_list_table",
                     alt="The first set-ups for each project.")
        st.caption(plain(f"{'The demo’s projects, not yours. ' if own is None else ''}{list_text(served, rig)}"))
        if not st.toggle("What should I buy?", key="match_buy"):
            return
        savings, year = savings_for(*asked, served)
        with st.spinner("Trying one part after another, some ten seconds"):
            hours, rows = answered(year, savings_for), answered(savings, savings_for)
    except PlannerError as error:
        st.error(plain(error))
        return
    st.table(_table(BUY_COLUMNS, [saving_row(one, hours) for one in rows]).set_index("One thing changed"))
    st.caption(plain(buy_text(served, hours, CLEAR)))


def _table(names: Sequence[str], rows: Sequence[tuple[str, ...]]) -> pd.DataFrame:
    return pd.DataFrame([[curled(text) for text in row] for row in rows],
                        columns=[name[:1].upper() + name[1:] for name in names])
