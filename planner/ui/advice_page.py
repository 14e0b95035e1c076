"""Guide or not, and how long: the verdict for one target, and the pictures that make it plain."""

from dataclasses import dataclass

import streamlit as st
from astropy import units as u

from planner.charts.advice import budget_chart, budget_frame, speed_chart, speed_frame, star_chart
from planner.errors import PlannerError
from planner.exposure.depth import Goal
from planner.files.csv_text import csv_text
from planner.files.json_text import json_text
from planner.files.target_stars import stars_around
from planner.session.advice.answer import Advice, advise, filter_named
from planner.session.advice.document import advice_document
from planner.session.advice.star_strip import StarPicture, star_strip
from planner.session.advice.text import headline, place_lines, way_rows
from planner.ui import settings
from planner.ui.choices import Choice, Chosen, choose


@dataclass(frozen=True)
class AdviceForm:
    """The values of this page's own widgets."""

    filter: str
    brightness: float | None  # mag/arcsec2; None: the usual goal of the filter
    signal_to_noise: float | None


@st.cache_data(max_entries=200, show_spinner="Computing")
def advice_for(key: Choice, form: AdviceForm, _chosen: Chosen) -> tuple[Advice, tuple[StarPicture, ...]]:
    """Return the advice and the star pictures; the cache is keyed on what was chosen, in plain texts."""
    rig, target = _chosen.rig, _chosen.target
    stars = stars_around(target, rig)
    brightness = None if form.brightness is None else form.brightness * u.mag / u.arcsec**2
    advice = advise(
        target, rig, _chosen.site, _chosen.night, band=filter_named(rig, form.filter), stars=stars,
        lowest_altitude=_chosen.lowest_altitude,
        goal=Goal(brightness=brightness, signal_to_noise=form.signal_to_noise))
    if advice.need is None or advice.scene is None:
        return advice, ()
    return advice, star_strip(advice.scene, advice.need, advice.star)


def page() -> None:
    """Show the page."""
    chosen = choose()
    form = _form(chosen)
    try:
        advice, pictures = advice_for(chosen.key, form, chosen)
    except PlannerError as error:
        st.error(str(error))
        st.stop()
    st.header(headline(advice), anchor=False)
    if advice.need is None:
        st.info(f"{advice.window.reason} Choose another target, a lower altitude limit, or another site.")
        return
    _verdict(advice)
    _figures(advice)
    _pictures(advice, pictures)
    _downloads(advice)


def _form(chosen: Chosen) -> AdviceForm:
    """Show the widgets of this page."""
    with st.expander("Filter and the goal of the total exposure"):
        columns = st.columns(3)
        name = settings.pick("filter", "Filter", [band.name for band in chosen.rig.filters], place=columns[0])
        brightness = columns[1].number_input(
            "Surface brightness (mag/arcsec²)", 10.0, 32.0, None, 0.5, key="advice_brightness",
            placeholder="26.5, or a line of 20 R", help="Of the faint part you want to show.")
        ratio = columns[2].number_input("Signal-to-noise wanted", 1.0, 1000.0, None, 1.0, key="advice_ratio",
                                        placeholder="5, or 10 in a line")
    return AdviceForm(filter=name, brightness=brightness, signal_to_noise=ratio)


def _verdict(advice: Advice) -> None:
    """Show why, and what would change it."""
    if not advice.tonight:
        st.warning(f"Not tonight: {advice.window.reason} The verdict is for the hours around transit on another night.")
    why, change = st.columns(2)
    with why:
        st.subheader("Why", anchor=False)
        st.markdown("\n".join(f"- {reason}" for reason in advice.verdict.reasons))
    with change:
        st.subheader("What would change it", anchor=False)
        st.markdown("\n".join(f"- {change.sentence}" for change in advice.verdict.changes) or "Nothing single.")
    for note in advice.notes:
        st.caption(note)


def _ways(advice: Advice) -> None:
    """Show both ways side by side."""
    rows = way_rows(advice)
    names = ("", "unguided", "guided")[: len(rows[0])]
    st.table([dict(zip(names, row, strict=True)) for row in rows])


def _figures(advice: Advice) -> None:
    """Show the figures that the verdict rests on."""
    lines = place_lines(advice)
    for column, (label, value, more) in zip(st.columns(len(lines)), lines, strict=True):
        column.metric(label, value)
        column.caption(more)


def _pictures(advice: Advice, pictures: tuple[StarPicture, ...]) -> None:
    """Show the speed curve, the stars and the budget."""
    left, right = st.columns([3, 2])
    with left:
        st.subheader("How fast the picture deepens", anchor=False)
        st.altair_chart(speed_chart(advice.verdict), theme=None, width="stretch", key="speed_chart")
        st.caption("Bands mark the plateau: lengths with at least 95 % of the best speed. A dot marks the recommended "
                   "length: the highest speed on the ladder, ties within 1 % to the shorter.")
        _ways(advice)
    with right:
        st.subheader("What moves the star", anchor=False)
        st.altair_chart(budget_chart(advice.verdict), theme=None, width="stretch", key="budget_chart")
        st.caption("Each cause alone, and all drift together: causes may cancel each other.")
    st.subheader("A star as this camera records it", anchor=False)
    brightest = max((float(picture.share.max()) for picture in pictures), default=1.0)
    for method in dict.fromkeys(picture.method for picture in pictures):
        st.markdown(f"**{method}**")
        with st.container(horizontal=True, key=f"stars_{method}"):
            for place, picture in enumerate(picture for picture in pictures if picture.method == method):
                st.altair_chart(star_chart(picture, brightest), theme=None, width="content", key=f"{method}_{place}")
    st.caption("The typical sub of each length without noise: north up, east left; all with the same light. "
               "Below each length the full width at half maximum and minor over major axis.")


def _downloads(advice: Advice) -> None:
    """Offer the result as JSON and the charts' data as CSV."""
    columns = st.columns(3)
    columns[0].download_button("Result (JSON)", json_text(advice_document(advice), "advise"), "advice.json",
                               "application/json", key="download_advice")
    columns[1].download_button("Speed curve (CSV)", csv_text(speed_frame(advice.verdict)), "speed.csv",
                               "text/csv", key="download_speed")
    columns[2].download_button("Error budget (CSV)", csv_text(budget_frame(advice.verdict)), "budget.csv",
                               "text/csv", key="download_budget")
