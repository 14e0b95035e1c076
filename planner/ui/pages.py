"""The list of pages: one page, one question."""

from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module

import streamlit as st

from planner.ui.frame import NAMES, red_light, show_frame, write_the_address
from planner.ui.hosts import refuse_foreign_host
from planner.ui.theme import use_look


@dataclass(frozen=True)
class Entry:
    """One page: its module in planner/ui, which holds `page()`, and what the frame above it asks for."""

    module: str
    title: str
    path: str
    choices: tuple[str, ...] = NAMES
    default: bool = False


PAGES = {
    "Decide": (
        Entry("match_page", "Choose the combination", "match", choices=("rig", "site", "target")),
        Entry("advice_page", "Guide or not, how long", "advice", default=True),
        Entry("tonight_page", "Tonight", "tonight"),
        Entry("year_page", "The year", "year"),
    ),
    "Measure": (
        Entry("test_frame_page", "Test frame", "frame"),
        Entry("drift_page", "Drift and polar alignment", "drift"),
        Entry("pointing_page", "Pointing", "pointing"),
    ),
    "Build": (
        Entry("pier_page", "Pier", "pier", choices=()),
        Entry("equipment_page", "My equipment", "equipment", choices=()),
        Entry("sources_page", "How it is computed", "sources", choices=()),
    ),
}


def run() -> None:
    """Show the page that is chosen, with the frame above it."""
    st.set_page_config(page_title="planner", layout="wide")
    refuse_foreign_host()
    entries = {entry.title: entry for group in PAGES.values() for entry in group}
    pages = {entry.module: _page(entry) for entry in entries.values()}
    st.session_state["pages"] = pages  # for a page that leads on to another
    chosen = st.navigation({section: [pages[entry.module] for entry in group] for section, group in PAGES.items()})
    with st.sidebar:
        use_look(red_light())
    choices = entries[chosen.title].choices
    st.session_state["chosen"] = show_frame(choices) if choices else None
    write_the_address()
    chosen.run()


def _page(entry: Entry) -> st.Page:
    return st.Page(_shown(entry.module), title=entry.title, url_path=entry.path, default=entry.default)


def _shown(module: str) -> Callable[[], None]:
    """Return what shows a page; its module is imported when it is first shown."""
    return lambda: import_module(f"planner.ui.{module}").page()
