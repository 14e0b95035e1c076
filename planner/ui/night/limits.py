"""The limits of one night on the page "Tonight": shortest stay, hours, filters, distances from the Moon."""

import datetime
from dataclasses import dataclass

import streamlit as st
from astropy import units as u
from astropy.time import Time

from planner.checks import Rule
from planner.errors import InvalidInputError
from planner.files.forms.session import moon_distances, night_moment
from planner.rig import Rig, Site
from planner.session.night.limits import NightLimits
from planner.session.worth.times import MINIMUM_BLOCK
from planner.ui import settings
from planner.ui.choices import Chosen
from planner.ui.plain import plain
from planner.visibility.clock import evening_date, local_time, utc_text

STAY = Rule(at_least=5, at_most=240, remedy="Give minutes, e.g. 60.")


@dataclass(frozen=True)
class LimitsAsked:
    """What was set; `key` holds all of it in texts and numbers."""

    stay_min: float
    limits: NightLimits
    only: tuple[str, ...]  # filters; none for all
    key: tuple[float, str, str, str, tuple[str, ...]]


def moment_asked(name: str, site: Site, night: datetime.date) -> Time | None:
    """Return a moment kept in the address under a name, if it lies in this night."""
    try:
        moment = datetime.datetime.fromisoformat(str(st.session_state.get(f"choice_{name}") or ""))
    except ValueError:
        return None
    return Time(moment) if moment.tzinfo is not None and evening_date(moment, site) == night else None


def ask_for_limits(chosen: Chosen) -> LimitsAsked:
    """Show the widgets and return what they say; what is no answer is told beside its field and left out."""
    usual = float(MINIMUM_BLOCK.to_value(u.min))
    first, second = st.columns(3), st.columns([2, 1])
    stay = settings.number("stay", "Shortest stay on a target (min)", usual, STAY, place=first[0])
    begin = _clock("from", "First frame from (HH:MM)", "dusk", chosen, first[1])
    until = _clock("until", "Last frame until (HH:MM)", "dawn", chosen, first[2])
    only = _filters(chosen.rig, second[0])
    moon = _moon(second[1], chosen.rig)
    return LimitsAsked(stay_min=usual if stay is None else stay, only=only,
                       limits=NightLimits(begin=begin, until=until, moon=moon_distances("Degrees from the Moon", moon)),
                       key=(usual if stay is None else stay, "" if begin is None else begin.isot,
                            "" if until is None else until.isot, moon, only))


def _clock(name: str, label: str, usual: str, chosen: Chosen, place: object) -> Time | None:
    """Show the field of a time of the night; empty for the usual end of it."""
    asked, state = moment_asked(name, chosen.site, chosen.night), st.session_state
    refused = state.get(f"refused_{name}", "")
    shown = "" if asked is None else f"{local_time(asked, chosen.site):%H:%M}"
    held = state.get(f"widget_{name}", "") if refused else settings.hold(f"widget_{name}", shown)
    place.text_input(label, held, key=f"widget_{name}", placeholder=usual,  # type: ignore[attr-defined]
                     on_change=_keep_clock, args=(name, label, chosen.site, chosen.night))
    if refused:
        place.error(plain(f"{refused} Below it is left as it was."))  # type: ignore[attr-defined]
        settings.mark_stale(label)
    return asked


def _keep_clock(name: str, label: str, site: Site, night: datetime.date) -> None:
    state, text = st.session_state, st.session_state[f"widget_{name}"]
    try:
        state[f"choice_{name}"] = utc_text(night_moment(label, text, night, site)) if text.strip() else None
        state[f"refused_{name}"] = ""
    except InvalidInputError as error:
        state[f"refused_{name}"] = str(error)


def _filters(rig: Rig, place: object) -> tuple[str, ...]:
    names = [band.name for band in rig.filters]
    kept = str(st.session_state.get("choice_only") or "").split(",")
    held = settings.hold("widget_only", [name for name in names if name in kept])
    picked = place.multiselect("Filters for this night", names, held, key="widget_only",  # type: ignore[attr-defined]
                               placeholder="all that are wanted", on_change=_keep_filters)
    return tuple(picked)


def _keep_filters() -> None:
    st.session_state["choice_only"] = ",".join(st.session_state["widget_only"])


def _moon(place: object, rig: Rig) -> str:
    """Show the field of the distances from the Moon and return the text in force."""
    state = st.session_state
    refused = state.get("refused_moon", "")
    kept = str(state.get("choice_moon") or "")
    held = state.get("widget_moon", "") if refused else settings.hold("widget_moon", kept)
    place.text_input("Degrees from the Moon", held, key="widget_moon",  # type: ignore[attr-defined]
                     placeholder="L=60, R=45", on_change=_keep_moon, args=(rig,), help="By filter, kept while the Moon "
                     "is up. Left empty, the Moon counts as brightness, which is what its light costs.")
    if refused:
        place.error(plain(f"{refused} Below it is left as it was."))  # type: ignore[attr-defined]
        settings.mark_stale("Degrees from the Moon")
    return kept


def _keep_moon(rig: Rig) -> None:
    state, text = st.session_state, st.session_state["widget_moon"]
    try:
        NightLimits(moon=moon_distances("Degrees from the Moon", text)).of_rig(rig)
        state["choice_moon"], state["refused_moon"] = text.strip(), ""
    except InvalidInputError as error:
        state["refused_moon"] = str(error)
