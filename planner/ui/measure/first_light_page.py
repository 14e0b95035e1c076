"""First light: what to measure, in which order, until the verdict stands; it goes on where the observer is."""

from concurrent.futures import Future

import streamlit as st
from astropy import units as u

from planner.errors import PlannerError
from planner.session.advice.answer import Advice
from planner.session.advice.first_light import COMMON, DONE, NEEDLESS, NEXT, FirstLight, MeasuringStep, first_light
from planner.session.advice.text import headline
from planner.ui import settings
from planner.ui.choices import Choice, choose
from planner.ui.decide.advice_page import AdviceForm, advice_for
from planner.ui.outside import ask
from planner.ui.plain import plain
from planner.ui.waiting import answered

WHERE = {"polar alignment": "measure.drift_page", "drift log": "measure.drift_page", "seeing": "measure.frame_page",
         "sky brightness": "equipment.equipment_page", "read noise": "equipment.equipment_page"}
LEAST_H = 0.95  # below it a gain is told in minutes


@st.cache_resource(max_entries=50, show_spinner=False)
def steps_for(key: Choice, form: AdviceForm, _advice: Advice) -> Future[FirstLight | None]:
    """Return the list to come; its cache is keyed on what was chosen: a figure saved changes the equipment."""
    return ask(first_light, _advice)


def page() -> None:
    """Show the page."""
    chosen = choose()
    band = settings.pick("filter", "Filter", [one.name for one in chosen.rig.filters])
    form = AdviceForm(filter=band, brightness=None, line=None, signal_to_noise=None)
    try:
        advice = advice_for(chosen.key, form, (), False, chosen)
        with st.spinner("Asking what to measure, and in which order"):
            found: FirstLight | None = answered(steps_for(chosen.key, form, advice), steps_for)
    except PlannerError as error:
        st.error(plain(error))
        st.stop()
    st.header(plain(headline(advice) if found is None else found.verdict), anchor=False)
    if found is None:
        st.info(plain(f"{advice.window.reason} Choose another target, night or site: the list is for one that is up."))
        return
    still = [step for step in found.steps if step.state not in (DONE, NEEDLESS)]
    (st.success if not still else st.info)(plain(found.sentence))
    for number, step in enumerate(still, start=1):
        _show(number, step)
    for state, words in ((DONE, "Measured already"), (NEEDLESS, "Not worth measuring for this target")):
        names = [step.task.title.lower() for step in found.steps if step.state == state]
        if names:
            st.markdown(f"**{words}:** {', '.join(names)}.")
    if still:
        st.caption(f"Care: {' '.join(COMMON)}")


def _show(number: int, step: MeasuringStep) -> None:
    """Show one measurement: how it is made and what it decides, open if it is the next."""
    hours = step.hours_per_night.to_value(u.h)
    gain = f"{hours:.1f} h" if hours >= LEAST_H else f"{60 * hours:.0f} min"
    title = f"{number}. {step.task.title}: {step.minutes:.0f} minutes, worth {gain} a night"
    with st.expander(title, expanded=step.state == NEXT, key=f"first_light_{step.measurement}"):
        lines = [("Point at", step.task.point), ("Record", step.task.record), ("Decides", step.task.decides),
                 *(("Care", caution) for caution in step.task.cautions)]
        st.markdown("\n".join(f"- **{words}:** {plain(text)}" for words, text in lines))
        pages = st.session_state.get("pages")
        if pages:
            st.page_link(pages[WHERE[step.measurement]], label="Where it is read and saved")
