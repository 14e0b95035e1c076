"""The frame around every page: rig, site, target, night and lowest altitude, chosen once and kept in the address.

The choices live in session state under keys of our own (`choice_*`), because a widget forgets its value when its page
is left. Before each run of a widget its value is set from the choice, and a change of the widget changes the choice.
The address is written on every run, so that a page can be bookmarked or shared. It is followed as the page opens and
on the way back or forward alone: a click may still send the address before the last one.
"""

import datetime
import os
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import parse_qsl, urlencode

import streamlit as st
from astropy import units as u
from streamlit.runtime.scriptrunner import get_script_run_ctx

from planner.checks import Rule
from planner.errors import PlannerError
from planner.files.equipment import equipment_path, load_equipment
from planner.files.equipment.load import equipment_stamp
from planner.files.targets import find_target
from planner.files.targets.catalogue import all_objects
from planner.rig import Equipment, Rig, Site, clock_problem
from planner.session.advice.answer import LOWEST_ALTITUDE
from planner.session.year.objects import fitting_objects
from planner.ui import settings
from planner.ui.first_paint import SYSTEM
from planner.ui.plain import plain
from planner.ui.settings import hold, mark_stale
from planner.ui.theme import take_look
from planner.visibility.clock import as_date
from planner.visibility.darkness import night_to_plan
from planner.visibility.moving_targets import placed
from planner.visibility.target import Target

FIRST_TARGET = "NGC 7331"
ALL = ("rig", "site", "target", "night", "lowest")
WIDTHS = {"rig": 5, "site": 5, "target": 5, "night": 4, "lowest": 4}
FIRST_NIGHT, LAST_NIGHT = datetime.date(1974, 1, 1), datetime.date(2097, 12, 31)
LOWEST = Rule(at_least=0, at_most=85, remedy="Give degrees above the horizon, e.g. 30.")
ON_ITS_HEELS = 3.0  # seconds in which another run may still cut short the one that said what was done


@dataclass(frozen=True)
class Choice:
    """What the observer has chosen, in plain texts so that a cache can be keyed on it."""

    equipment: str  # path of the equipment file with its time of change; empty for the packaged demo
    rig: str
    site: str
    target: str
    night: str  # local date of the evening, YYYY-MM-DD
    lowest_altitude_deg: float


@dataclass(frozen=True)
class Chosen:
    """The same, as the things themselves."""

    key: Choice
    equipment: Equipment
    rig: Rig
    site: Site
    target: Target
    night: datetime.date

    @property
    def lowest_altitude(self) -> u.Quantity[u.deg]:
        """Apparent, below which no sub is taken."""
        return self.key.lowest_altitude_deg * u.deg


def equipment_file() -> Path | None:
    """Return the equipment file that the app was started with; None for the user's own, or else the demo."""
    given = os.environ.get("PLANNER_EQUIPMENT")
    return Path(given) if given else None


def equipment_in_use() -> tuple[Equipment, str]:
    """Return the equipment and a text that changes when its file or a horizon file of it does."""
    stamp = equipment_stamp(equipment_path(equipment_file()))
    return _equipment_at(equipment_file(), stamp), stamp


def has_own_equipment() -> bool:
    """Say whether the equipment is the observer's own; a damaged file is their own too."""
    try:
        return not equipment_in_use()[0].is_demo
    except PlannerError:
        return True


@st.cache_resource(max_entries=4, show_spinner=False)
def _equipment_at(_path: Path | None, stamp: str) -> Equipment:
    return load_equipment(_path)


@st.cache_data(max_entries=500, show_spinner=False)
def _target_named(text: str) -> Target:
    return find_target(text)


def choose() -> Chosen:
    """Return what is chosen: as the frame above the page shows it, or from widgets of its own if there is no frame."""
    framed: Chosen | None = st.session_state.get("chosen")
    return show_frame() if framed is None else framed


def show_frame(shown: tuple[str, ...] = ALL) -> Chosen:
    """Show the widgets that a page needs and return what is chosen.

    A wrong entry marks its field and keeps the last good one. An equipment file with a problem ends the page with the
    one line that names it.
    """
    follow_the_address()
    try:
        equipment, stamp = equipment_in_use()
    except PlannerError as error:
        st.error(plain(f'{error} The page "My equipment" lists every problem of the file.'))
        st.stop()
    with st.container(key="frame"):
        places = iter(st.columns([WIDTHS[name] for name in shown]))
        rig = equipment.rig(_select("Rig", "rig", [rig.name for rig in equipment.rigs], shown, places))
        site = equipment.site(_select("Site", "site", [site.name for site in equipment.sites], shown, places))
        _suit_the_target(stamp, rig, site, demo=equipment.is_demo)
        target = _target(next(places) if "target" in shown else None)
        night = _night(site, next(places) if "night" in shown else None)
        lowest = _lowest(next(places) if "lowest" in shown else None)
    target = placed(target, site, night)
    known = target.name if target.orbit is None else f"{target.name} {target.orbit}"
    key = Choice(equipment=stamp, rig=rig.name, site=site.name, target=known, night=night.isoformat(),
                 lowest_altitude_deg=lowest)
    return Chosen(key=key, equipment=equipment, rig=rig, site=site, target=target, night=night)


def target_and_night(site: Site) -> tuple[Target, datetime.date]:
    """Return the target and the night that are chosen, for a page without the frame."""
    follow_the_address()
    equipment, stamp = equipment_in_use()
    _suit_the_target(stamp, equipment.rigs[0], site, demo=equipment.is_demo)
    night = _night(site, None)
    return placed(_last_good_target(), site, night), night


def say_after(key: str, text: str, *, done: bool = True) -> None:
    """Keep what there is to say for the run that follows: something was done, or could not be."""
    st.session_state[key] = [text, done, None]


def show_said(key: str) -> None:
    """Show what `say_after` kept, in a place of its own: fields below stay where they are, with what is being typed."""
    place, what = st.empty(), said(key)
    if what is not None:
        (place.success if what[1] else place.error)(plain(what[0]))


def said(key: str) -> tuple[str, bool] | None:
    """Return what `say_after` kept; a run that follows on its heels shows it again, for it cut the first one short."""
    kept = st.session_state.get(key)
    if kept is None:
        return None
    text, done, shown = kept
    if shown is not None and time.monotonic() - shown > ON_ITS_HEELS:
        del st.session_state[key]
        return None
    kept[2] = time.monotonic() if shown is None else shown
    return text, done


def follow_the_address() -> None:
    """Take the choices from the address, as the page opens and when the Back button has changed it."""
    state, run = st.session_state, get_script_run_ctx()
    address = {name: st.query_params[name] for name in (*settings.KEPT, "look") if name in st.query_params}
    first = "choice_target" not in state
    moved = run is not None and run.is_history_navigation and address and address != state.get("address")
    if not (first or moved):
        return
    for name in ("rig", "site"):
        state[f"choice_{name}"] = address.get(name)
    state["choice_target"] = state["typed_target"] = address.get("target", FIRST_TARGET)
    state["target_open"] = "target" not in address
    state["choice_night"] = _date_or_none(address.get("night"))
    state["night_unknown"] = address.get("night") if state["choice_night"] is None else None
    take_look(address.get("look"), first=first)
    settings.take(address)
    state["address"] = address
    state.setdefault("setup_draft", dict(parse_qsl(st.query_params.get("answers", ""))))


def write_the_address(*, with_draft: bool = False) -> None:
    """Write the choices to the address, where they differ from what it says; and the answers of a set-up begun.

    A phone loads a page anew that slept.
    """
    state = st.session_state
    address = {name: str(state[f"choice_{name}"]) for name in settings.FRAME if state[f"choice_{name}"] is not None}
    address |= settings.written()
    if state["choice_look"] != SYSTEM:
        address["look"] = state["choice_look"]
    state["address"] = address
    if with_draft and state.get("setup_draft"):
        address |= {"answers": urlencode(state["setup_draft"])}
    if st.query_params.to_dict() != address:
        st.query_params.from_dict(address)


def _date_or_none(text: str | None) -> datetime.date | None:
    try:
        found = None if text is None else as_date(text)
        return found if found is None or FIRST_NIGHT <= found <= LAST_NIGHT else None
    except PlannerError:
        return None


def _keep(name: str) -> None:
    """Make the widget's new value the choice."""
    if name == "night":
        st.session_state["night_unknown"] = None
    st.session_state["typed_target" if name == "target" else f"choice_{name}"] = st.session_state[f"widget_{name}"]


def _select(label: str, name: str, options: list[str], shown: tuple[str, ...], places: Any) -> str:
    """Return the chosen name, the first one if none is chosen or the chosen one is not there."""
    wanted = st.session_state[f"choice_{name}"]
    known = {option.lower(): option for option in options}
    picked = known.get(str(wanted).strip().lower(), options[0])
    st.session_state[f"choice_{name}"] = picked
    if name in shown:
        with next(places):
            hold(f"widget_{name}", picked)
            st.selectbox(label, options, options.index(picked), key=f"widget_{name}", on_change=_keep, args=(name,))
            if wanted is not None and picked != wanted and str(wanted).strip().lower() not in known:
                st.warning(plain(f'There is no {name} "{wanted}" in the equipment: this is the first one.'))
                mark_stale(label)
    return picked


def _suit_the_target(stamp: str, rig: Rig, site: Site, *, demo: bool) -> None:
    """Begin with a target that suits rig, site and season where the observer has not named any."""
    state = st.session_state
    if state.pop("target_open", False) and not demo:
        night = night_to_plan(datetime.datetime.now(datetime.UTC), site)
        state["choice_target"] = state["typed_target"] = _suited(stamp, rig.name, site.name, night, rig, site)


@st.cache_data(max_entries=100, show_spinner=False)
def _suited(stamp: str, rig: str, site: str, night: datetime.date, _rig: Rig, _site: Site) -> str:
    """Return the catalogue's best object of the night for a rig and a site; the usual one where none is up."""
    found = fitting_objects(all_objects(), _rig, _site, night, nights=1, count=1)
    return str(found.objects.name[0]) if len(found.objects) else FIRST_TARGET


def _target(place: Any) -> Target:
    state = st.session_state
    if place is not None:
        with place:
            typed = hold("widget_target", state["typed_target"])
            st.text_input("Target", typed, key="widget_target", on_change=_keep, args=("target",),
                          help="A catalogue or common name, or coordinates such as 22 37 04 +34 24 57.")
            try:
                _target_named(state["typed_target"])
                state["choice_target"] = state["typed_target"]
            except PlannerError as error:
                st.error(plain(f"{error} Below it is still {_last_good_target().name}."))
                mark_stale("Target")
    return _last_good_target()


def _last_good_target() -> Target:
    """Return the target that is chosen, the first one where the address names nothing."""
    try:
        return _target_named(st.session_state["choice_target"])
    except PlannerError:
        st.session_state["choice_target"] = FIRST_TARGET
        return _target_named(FIRST_TARGET)


def _night(site: Site, place: Any) -> datetime.date:
    """Return the night chosen, the one now running, or from sunrise on the coming one, if none is.

    That one stays out of the address.
    """
    state = st.session_state
    now = datetime.datetime.now(datetime.UTC)
    tonight = night_to_plan(now, site)
    if place is not None:
        problem = clock_problem(site, now)
        if problem:
            st.warning(plain(problem))
        with place:
            if state.get("night_unknown"):
                st.warning(plain(f'There is no night "{state["night_unknown"]}" from {FIRST_NIGHT} to {LAST_NIGHT}: '
                                 "this is the coming one."))
            held = hold("widget_night", state["choice_night"] or tonight)
            st.date_input("Night (evening's date)", held, key="widget_night", on_change=_keep, args=("night",),
                          format="YYYY-MM-DD", min_value=FIRST_NIGHT, max_value=LAST_NIGHT)
    if state["choice_night"] == tonight:
        state["choice_night"] = None
    return state["choice_night"] or tonight


def _lowest(place: Any) -> float:
    """Return the lowest altitude [deg]."""
    usual = float(LOWEST_ALTITUDE.to_value(u.deg))
    if place is None:
        kept = st.session_state.get("choice_lowest")
        return usual if kept is None else float(kept)
    found = settings.number("lowest", "Lowest altitude (°)", usual, LOWEST, place=place,
                            help="Apparent. Nothing is taken below it, on any page.")
    return usual if found is None else found
