"""The frame around every page: rig, site, target and night, chosen once and kept in the address.

The choices live in session state under keys of our own (`choice_*`), because a widget forgets its value when its page
is left, and they are written to the address on every run, so that a page can be bookmarked or shared.
"""

import datetime
import os
from dataclasses import dataclass
from pathlib import Path
from zoneinfo import ZoneInfo

import streamlit as st

from planner.errors import PlannerError
from planner.files.equipment import equipment_path, load_equipment
from planner.files.targets import find_target
from planner.rig import Equipment, Rig, Site
from planner.visibility.target import Target

FIRST_TARGET = "NGC 7331"
NAMES = ("rig", "site", "target", "night")


@dataclass(frozen=True)
class Choice:
    """What the observer has chosen, in plain texts so that a cache can be keyed on it."""

    equipment: str  # path of the equipment file with its time of change; empty for the packaged demo
    rig: str
    site: str
    target: str
    night: str  # local date of the evening, YYYY-MM-DD


@dataclass(frozen=True)
class Chosen:
    """The same, as the things themselves."""

    key: Choice
    equipment: Equipment
    rig: Rig
    site: Site
    target: Target
    night: datetime.date


def equipment_in_use() -> tuple[Equipment, str]:
    """Return the equipment and a text that changes when its file does."""
    given = os.environ.get("PLANNER_EQUIPMENT")
    path = Path(given) if given else equipment_path()
    stamp = f"{path}|{path.stat().st_mtime_ns}" if path.exists() else ""
    return _equipment_at(given or None, stamp), stamp


@st.cache_resource(max_entries=4, show_spinner=False)
def _equipment_at(path: str | None, stamp: str) -> Equipment:
    return load_equipment(Path(path) if path else None)


@st.cache_data(max_entries=500, show_spinner=False)
def _target_named(text: str) -> Target:
    return find_target(text)


def tonight(site: Site, now: datetime.datetime | None = None) -> datetime.date:
    """Return the local date of the evening that names the night now running or coming: until noon, yesterday."""
    local = (now or datetime.datetime.now(datetime.UTC)).astimezone(ZoneInfo(site.time_zone))
    return (local - datetime.timedelta(hours=12)).date() if local.hour < 12 else local.date()


def choose() -> Chosen:
    """Show the four widgets and return what is chosen; a wrong entry marks its field and keeps the last good one."""
    equipment, stamp = equipment_in_use()
    _start_from_the_address(equipment)
    with st.container(key="frame"):
        columns = st.columns([3, 3, 3, 2])
        with columns[0]:
            rig = equipment.rig(_select("Rig", "rig", [rig.name for rig in equipment.rigs]))
        with columns[1]:
            site = equipment.site(_select("Site", "site", [site.name for site in equipment.sites]))
        with columns[2]:
            target = _target_field()
        with columns[3]:
            night = _night_field(site)
    if equipment.is_demo:
        st.caption("This is the packaged demo equipment, invented for trying things out. "
                   "Write your own with `planner init`.")
    _write_the_address()
    key = Choice(equipment=stamp, rig=rig.name, site=site.name, target=target.name, night=night.isoformat())
    return Chosen(key=key, equipment=equipment, rig=rig, site=site, target=target, night=night)


def _start_from_the_address(equipment: Equipment) -> None:
    """Fill the choices once from the address, or else with the first of each."""
    state = st.session_state
    for name, known in (("rig", [r.name for r in equipment.rigs]), ("site", [s.name for s in equipment.sites])):
        wanted = state.get(f"choice_{name}", st.query_params.get(name))
        state[f"choice_{name}"] = wanted if wanted in known else known[0]
    if "choice_target" not in state:
        state["choice_target"] = st.query_params.get("target", FIRST_TARGET)
    if "choice_night" not in state:
        state["choice_night"] = _date_or_none(st.query_params.get("night", ""))


def _date_or_none(text: str) -> datetime.date | None:
    try:
        return datetime.date.fromisoformat(text)
    except ValueError:
        return None


def _select(label: str, name: str, options: list[str]) -> str:
    key = f"choice_{name}"
    picked = st.selectbox(label, options, index=options.index(st.session_state[key]), key=f"widget_{name}")
    st.session_state[key] = picked
    return str(picked)


def _target_field() -> Target:
    text = st.text_input("Target", value=st.session_state["choice_target"], key="widget_target",
                         help="A catalogue or common name, or coordinates such as 22 37 04 +34 24 57.")
    try:
        target = _target_named(text)
    except PlannerError as error:
        st.error(str(error))
        return _target_named(st.session_state.get("good_target", FIRST_TARGET))
    st.session_state["choice_target"] = st.session_state["good_target"] = text
    return target


def _night_field(site: Site) -> datetime.date:
    night = st.date_input("Night (evening's date)", value=st.session_state["choice_night"] or tonight(site),
                          key="widget_night", format="YYYY-MM-DD")
    if not isinstance(night, datetime.date):
        return tonight(site)
    st.session_state["choice_night"] = night
    return night


def _write_the_address() -> None:
    st.query_params.from_dict({name: str(st.session_state[f"choice_{name}"]) for name in NAMES})
