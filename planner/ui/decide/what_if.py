"""What if one figure were another: sliders, and the answer beside the present one as soon as they are let go."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import streamlit as st
from astropy import units as u

from planner.charts.advice import tried_chart
from planner.errors import PlannerError
from planner.session.advice.answer import Advice
from planner.session.advice.glance import glance_after
from planner.session.advice.text import headline
from planner.session.advice.what_if import (
    AS_IT_IS,
    WhatIf,
    guider_choices,
    present_figures,
    what_if_text,
    with_figures,
)
from planner.ui.choices import Chosen
from planner.ui.drawing import draw
from planner.ui.lines import draw_table
from planner.ui.plain import plain

TAKEN = "what_if_taken"


@dataclass(frozen=True)
class Sliders:
    """What the sliders say, in plain numbers; None where one stands where the figure is."""

    polar_arcmin: float | None = None
    periodic_arcsec: float | None = None
    seeing_arcsec: float | None = None
    sky_mag: float | None = None
    focal_factor: float = 1.0
    guider: str = AS_IT_IS

    @property
    def what(self) -> WhatIf:
        """The same with units."""
        return WhatIf(
            polar_error=_unit(self.polar_arcmin, u.arcmin), periodic_error=_unit(self.periodic_arcsec, u.arcsec),
            seeing=_unit(self.seeing_arcsec, u.arcsec), sky_brightness=_unit(self.sky_mag, u.mag / u.arcsec**2),
            focal_factor=self.focal_factor, guider=self.guider)


def _unit(value: float | None, unit: u.UnitBase) -> Any:
    return None if value is None else value * unit


def taken(chosen: Chosen) -> tuple[Sliders, ...]:
    """Return what was taken for this rig and site, in the order in which it was; say so, and show how to go back."""
    kept = st.session_state.get(TAKEN)
    if kept is None or kept[0] != _whose(chosen):
        return ()
    words = []
    for place, sliders in enumerate(kept[1]):
        before = with_taken(chosen, kept[1][:place])
        words.append(what_if_text(sliders.what, present_figures(before.rig, before.site)))
    st.warning(plain(f"What if, on this page only: {'; then '.join(words)}. Your equipment is as it was."))
    st.button("Back to the equipment", key="what_if_drop", on_click=_drop)
    return tuple(kept[1])


def with_taken(chosen: Chosen, tried: Sequence[Sliders]) -> Chosen:
    """Return what is chosen with other figures, one set after the other."""
    for sliders in tried:
        rig, site = with_figures(chosen.rig, chosen.site, sliders.what)
        chosen = replace(chosen, rig=rig, site=site)
    return chosen


def _drop() -> None:
    st.session_state.pop(TAKEN, None)


def _take(chosen: Chosen, before: tuple[Sliders, ...], sliders: Sliders, band: str) -> None:
    st.session_state[TAKEN] = (_whose(chosen), (*before, sliders))
    st.session_state["choice_filter"] = band


def _whose(chosen: Chosen) -> tuple[str, str, str]:
    return chosen.key.equipment, chosen.rig.name, chosen.site.name


@st.fragment
def what_if(chosen: Chosen, before: tuple[Sliders, ...], now: Advice, ask: Callable[[Sliders, str], Advice]) -> None:
    """Show the sliders and the answer beside the present one.

    `before` was taken already and is in `now`; `ask` answers for what the sliders say and a filter.
    """
    chosen = with_taken(chosen, before)
    left, right = st.columns([5, 3])
    with right:
        sliders, band, hours = _sliders(chosen, now)
    try:
        then = ask(sliders, band)
    except PlannerError as error:
        left.error(plain(error))
        return
    with left:
        _answer(now, then, hours)
        words = what_if_text(sliders.what, present_figures(chosen.rig, chosen.site))
        if st.button("Take these", key="what_if_take", disabled=not words and band == now.band.name,
                     help="Answer the whole page with these figures until you go back. The equipment stays as it is."):
            _take(chosen, before, sliders, band)
            st.rerun()


def _answer(now: Advice, then: Advice, hours: float) -> None:
    rows = [("Do, as the figures stand", headline(now), headline(then))]
    before, after = (dict(glance_after(advice, hours * u.h)) for advice in (now, then))
    rows += [(label, before.get(label, ""), after.get(label, "")) for label in dict.fromkeys((*before, *after))]
    draw_table(st, ("", "now", "what if"), rows)
    if now.need is not None and then.need is not None:
        draw(st, tried_chart(now.need, then.need), "what_if_chart")


def _sliders(chosen: Chosen, now: Advice) -> tuple[Sliders, str, float]:
    """Show the sliders and return what they say, with the filter and the hours."""
    state, figures = st.session_state, present_figures(chosen.rig, chosen.site)
    key = f"{_whose(chosen)}{now.band.name}{state.get('what_if_round', 0)}"

    def slide(label: str, low: float, high: float, value: float, step: float, form: str) -> float | None:
        at = min(max(round(value, 1), low), high)
        found = st.slider(label, low, max(high, at), at, step, format=form, key=f"what_{label}{key}")
        return None if found == at else float(found)

    polar, seeing = float(figures.polar_error.value), float(figures.seeing.to_value(u.arcsec))
    periodic = None if figures.periodic_error is None else float(figures.periodic_error.value)
    sliders = Sliders(
        polar_arcmin=slide("Polar error (′)", 0.0, max(10.0, 2 * polar), polar, 0.1, "%.1f′"),
        periodic_arcsec=None if periodic is None else slide(
            "Periodic error, peak to peak (″)", 0.0, max(20.0, 2 * periodic), periodic, 0.5, "%.1f″"),
        seeing_arcsec=slide("Seeing in the zenith (″)", 0.5, 6.0, seeing, 0.1, "%.1f″"),
        sky_mag=slide("Sky (mag/arcsec²)", 16.0, 22.0, float(figures.sky_brightness.value), 0.1, "%.1f"),
        focal_factor=slide("Focal length by a reducer or an extender, ×", 0.5, 2.5, 1.0, 0.05, "%.2f") or 1.0,
        guider=st.selectbox("Guider", guider_choices(chosen.rig), key=f"what_guider{key}"))
    filters = [band.name for band in chosen.rig.filters]
    band = st.selectbox("Filter", filters, index=filters.index(now.band.name), key=f"what_filter{key}")
    length = 6.0 if now.scene is None else float(now.scene.length.to_value(u.h))
    hours = slide("Hours", 0.5, max(40.0, 2 * length), length, 0.5, "%.1f h") or length
    st.button("All as it is", key="what_if_reset", on_click=_reset)
    return sliders, str(band), hours


def _reset() -> None:
    st.session_state["what_if_round"] = st.session_state.get("what_if_round", 0) + 1
