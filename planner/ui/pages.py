"""The list of pages: one page, one question."""

from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module

import streamlit as st

from planner.ui.choices import NAMES, red_light, show_frame, write_the_address
from planner.ui.hosts import refuse_foreign_host
from planner.ui.theme import use_look


@dataclass(frozen=True)
class Page:
    """One page: its module in planner/ui, which holds `page()`, and what the frame above it asks for."""

    module: str
    title: str
    path: str
    choices: tuple[str, ...] = NAMES
    default: bool = False


PAGES = {
    "Decide": (
        Page("match_page", "Choose the combination", "match", choices=("rig", "site", "target")),
        Page("advice_page", "Guide or not, how long", "advice", default=True),
        Page("tonight_page", "Tonight", "tonight"),
        Page("year_page", "The year", "year"),
    ),
    "Measure": (
        Page("frame_page", "Test frame", "frame"),
        Page("drift_page", "Drift and polar alignment", "drift"),
        Page("pointing_page", "Pointing", "pointing"),
    ),
    "Build": (
        Page("pier_page", "Pier", "pier", choices=()),
        Page("equipment_page", "My equipment", "equipment", choices=()),
        Page("sources_page", "How it is computed", "sources", choices=()),
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


def _page(entry: Page) -> st.Page:
    return st.Page(_shown(entry.module), title=entry.title, url_path=entry.path, default=entry.default)


def _shown(module: str) -> Callable[[], None]:
    """Return what shows a page; its module is imported when it is first shown."""
    return lambda: import_module(f"planner.ui.{module}").page()
