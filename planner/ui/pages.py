"""The list of pages: one page, one question."""

import gc
from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from typing import Any

import streamlit as st

from planner.ui import settings, whose
from planner.ui.choices import ALL, follow_the_address, has_own_equipment, show_frame, write_the_address
from planner.ui.hosts import refuse_foreign_host
from planner.ui.outside import HELPERS, ask, ask_first
from planner.ui.theme import faint_answer, show_look

GEAR = ("rig", "site", "target", "night")


@dataclass(frozen=True)
class Page:
    """One page: its module in planner/ui, which holds `page()`, and what the frame above it asks for."""

    module: str
    title: str
    path: str
    choices: tuple[str, ...] = ALL
    gear: bool = True  # whether the equipment plays a part
    default: bool = False


WELCOME, TONIGHT, SETUP = "welcome_page", "night.tonight_page", "equipment.setup_page"
PAGES = {
    "Tonight": (
        Page(WELCOME, "Welcome", "welcome", choices=(), gear=False, default=True),
        Page(TONIGHT, "Tonight", "tonight"),
        Page("night.year_page", "The year", "year"),
        Page("night.projects_page", "Projects", "projects", choices=("rig", "site", "night", "lowest")),
    ),
    "Decide": (
        Page("decide.advice_page", "Guide or not, how long", "advice"),
        Page("decide.match_page", "Choose the combination", "match"),
    ),
    "Measure": (
        Page("measure.first_light_page", "First light", "first_light"),
        Page("measure.frame_page", "Test frame", "frame", choices=GEAR),
        Page("measure.drift_page", "Drift and polar alignment", "drift", choices=GEAR),
        Page("measure.pointing_page", "Pointing", "pointing", choices=GEAR),
    ),
    "My own": (
        Page(SETUP, "Set up, step by step", "setup", choices=(), gear=False),
        Page("equipment.equipment_page", "My equipment", "equipment", choices=()),
        Page("pier.page", "Pier", "pier", choices=(), gear=False),
        Page("sources_page", "How it is computed", "sources", choices=(), gear=False),
    ),
}


def make_ready() -> None:
    """Import what the pages and their helpers need, so that no visitor waits for it, and set it aside for good.

    What is set aside is not searched for waste after every run of a page, which took a third of a short one.
    """
    from planner.exposure.uncertainty import certainty
    from planner.session.advice.answer import advise
    from planner.session.match.set_ups import set_ups
    from planner.session.night.plan import plan_night

    ask_first(len, (advise,))  # to be told of it, a helper imports where it stands
    for _ in range(HELPERS):
        ask(len, (certainty, set_ups, plan_night))
    for entry in (entry for group in PAGES.values() for entry in group):
        import_module(f"planner.ui.{entry.module}")
    gc.collect()
    gc.freeze()


def run() -> None:
    """Show the page that is chosen, with the frame above it."""
    st.set_page_config(page_title="planner", layout="wide")
    refuse_foreign_host()
    entries = {entry.title: entry for group in PAGES.values() for entry in group}
    own = has_own_equipment()
    pages = {entry.module: _page(entry, own) for entry in entries.values()}
    st.session_state["pages"] = pages  # for a page that leads on to another
    chosen = st.navigation({section: [pages[entry.module] for entry in group] for section, group in PAGES.items()},
                           expanded=True)
    if own and chosen == pages[WELCOME]:
        follow_the_address()
        st.switch_page(pages[TONIGHT])
    with st.sidebar:
        follow_the_address()
        show_look()
    _show(entries[chosen.title], chosen)


def _show(entry: Page, chosen: Any) -> None:
    """Show one page: whose it is, the frame, then the answer, faint where a field above or in it is refused."""
    settings.begin()
    whose.begin(entry.title)
    whose.draw()
    faint = st.empty()
    if entry.gear:
        _say_whose_gear()
    st.session_state["chosen"] = show_frame(entry.choices) if entry.choices else None
    write_the_address(with_draft=entry.module == SETUP)
    try:
        with st.container(key="answer"):
            chosen.run()
    finally:
        if settings.stale():
            faint_answer(faint)


def _say_whose_gear() -> None:
    own = has_own_equipment()
    whose.about(whose.GEAR, not own, "your equipment" if own else "the demo's equipment, not yours")


def _page(entry: Page, own: bool) -> st.Page:
    """Return a page for the menu, from which the welcome is gone once there is equipment of one's own."""
    return st.Page(_shown(entry.module), title=entry.title, url_path=entry.path, default=entry.default,
                   visibility="hidden" if own and entry.module == WELCOME else "visible")


def _shown(module: str) -> Callable[[], None]:
    """Return what shows a page; its module is imported when it is first shown."""
    return lambda: import_module(f"planner.ui.{module}").page()
