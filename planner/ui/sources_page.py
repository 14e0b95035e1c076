"""How it is computed: every formula with its source, as its docstring gives it, and where the data come from."""

import dataclasses
import json

import streamlit as st

from planner.files.sources.data_sources import COLUMNS, DATA, LIBRARIES, LIBRARY_COLUMNS
from planner.files.sources.formulas import ROOMS, Formula, formulas
from planner.ui.plain import plain
from planner.ui.settings import hold

TITLES = {
    "optics": "The image of a star", "sky": "Air, sky and Moon", "tracking": "Mount and guiding",
    "exposure": "Signal, noise, length", "visibility": "Where and when", "measure": "Measuring",
    "session": "Choosing and planning", "pier": "Pier, balance, 12 V", "rig": "Site",
}


@st.cache_data(show_spinner=False)
def all_formulas() -> tuple[Formula, ...]:
    """Return every formula; they change only with the program."""
    return formulas()


def page() -> None:
    """Show the page."""
    every = all_formulas()
    st.caption(f"{len(every)} formulas, each as it stands in the program beside its code, with the paper or standard "
               "it comes from. Where none is cited, it follows from definitions or from the formulas around it. "
               "All of it runs on this machine: nothing is fetched.")
    words = st.text_input("Search the formulas", key="sources_words", placeholder="e.g. airmass, Moon, Tokovinin")
    room = _room({formula.room for formula in every})
    found = [one for one in every if (one.holds(words) if words.strip() else one.room == room)]
    if not found:
        st.info(f"No formula holds “{plain(words)}”. Try one word, such as seeing.")
    for place in ROOMS:
        here = [one for one in found if one.room == place]
        if here:
            st.subheader(TITLES[place], anchor=False)
        for one in here:
            _show(one)
    st.subheader("Where data and libraries come from", anchor=False)
    for columns, rows in ((COLUMNS, DATA), (LIBRARY_COLUMNS, LIBRARIES)):
        st.table([dict(zip([column.capitalize() for column in columns], row, strict=True)) for row in rows])
    st.download_button("All formulas (JSON)", json.dumps([dataclasses.asdict(one) for one in every], indent=2),
                       "formulas.json", "application/json", key="download_formulas")


def _room(there: set[str]) -> str:
    """Return the subject to show; a search looks through all of them."""
    rooms = [room for room in ROOMS if room in there]
    state = st.session_state
    held = hold("sources_room", state.get("sources_room") or state.get("sources_room_shown", rooms[0]))
    picked = st.pills("Subject (a search looks through all)", rooms, default=held, format_func=TITLES.__getitem__,
                      key="sources_room") or rooms[0]
    state["sources_room_shown"] = picked
    return str(picked)


def _show(formula: Formula) -> None:
    with st.container(border=True):
        st.markdown(f"**{formula.title}** · {formula.summary}")
        if formula.validity:
            st.markdown(formula.validity)
        papers = [f"Source: {paper}  " for paper in formula.references] or ["No paper is cited for this step.  "]
        st.caption("\n".join([*papers, f"In {formula.module}"]))
