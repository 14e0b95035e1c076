"""Guide or not, and how long: the answer in one look, then what lies behind it, worked out when it is opened."""

from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import dataclass, replace
from functools import cache

import streamlit as st
from astropy import units as u

from planner.charts.advice import budget_chart, budget_frame, speed_chart, speed_frame, star_chart, waterfall_chart
from planner.checks import given
from planner.errors import PlannerError
from planner.exposure.depth import AREA_RULE, GOAL_AREA, LINE_RULE, RATIO_RULE, SURFACE_RULE, Goal, goal_for
from planner.exposure.uncertainty import Certainty, certainty
from planner.fields import document
from planner.files.csv_text import csv_text
from planner.files.json_text import json_text
from planner.files.targets.stars import stars_around
from planner.rig import Equipment, Rig
from planner.session.advice.answer import Advice, advise, filter_named
from planner.session.advice.document import AdviceAnswer
from planner.session.advice.glance import SURENESS, glance, sureness
from planner.session.advice.rules_of_thumb import rules_of_thumb
from planner.session.advice.star_strip import StarPicture, star_strip
from planner.session.advice.text import OTHER_HOURS, certainty_lines, headline, place_lines, safer_text, way_rows
from planner.session.advice.waterfall import night_waterfall, star_waterfall
from planner.session.match.own_binning import own_binning_lines
from planner.ui import settings
from planner.ui.choices import Choice, Chosen, choose
from planner.ui.decide.side_by_side import side_by_side
from planner.ui.decide.what_if import Sliders, taken, what_if, with_taken
from planner.ui.drawing import draw
from planner.ui.lines import WAITING, draw_lines
from planner.ui.outside import ask, ask_first
from planner.ui.plain import plain
from planner.ui.waiting import answered

NIGHT_SAYS = ("From the hours of the night to equivalent hours: what each step takes. An equivalent hour is one of a "
              "perfect camera and mount with the target in the zenith of a dark, moonless sky.")
STAR_SAYS = ("From the width of a star in the zenith to the one on the sensor: each step is added to all before it, "
             "motion as a round blur of its rms.")


@dataclass(frozen=True)
class AdviceForm:
    """The values of this page's own widgets."""

    filter: str
    brightness: float | None  # mag/arcsec2; without a line, None: the usual goal of the filter
    line: float | None  # rayleigh
    signal_to_noise: float | None
    area_arcsec2: float = float(GOAL_AREA.value)


def advice_for(key: Choice, form: AdviceForm, tried: tuple[Sliders, ...], full: bool, chosen: Chosen) -> Advice:
    """Return the advice, with what would change it if `full`, once it is there."""
    return answered(_asked_for(key, form, tried, full, chosen), _asked_for)


# Shared, not copied: an advice is frozen.
@st.cache_resource(max_entries=60, show_spinner=False)
def _asked_for(key: Choice, form: AdviceForm, tried: tuple[Sliders, ...], full: bool, _chosen: Chosen
               ) -> Future[Advice]:
    """Return the advice to come; the cache is keyed on what was chosen, in plain texts."""
    _chosen = with_taken(_chosen, tried)
    rig, target = _chosen.rig, _chosen.target
    brightness = None if form.brightness is None else form.brightness * u.mag / u.arcsec**2
    line = None if form.line is None else form.line * u.R
    return ask_first(
        advise, target, rig, _chosen.site, _chosen.night, band=filter_named(rig, form.filter),
        stars=stars_around(target, rig), lowest_altitude=_chosen.lowest_altitude, with_changes=full,
        goal=Goal(brightness=brightness, line=line, signal_to_noise=form.signal_to_noise,
                  area=form.area_arcsec2 * u.arcsec**2))


@st.cache_resource(max_entries=60, show_spinner=False)
def sureness_for(key: Choice, form: AdviceForm, tried: tuple[Sliders, ...], _advice: Advice) -> Future[Certainty]:
    """Return how sure an advice with a verdict is, to come; the cache is keyed as `advice_for`."""
    return ask(certainty, _advice.scene, _advice.need)


@st.cache_resource(max_entries=40, show_spinner="Drawing stars")
def stars_for(key: Choice, form: AdviceForm, tried: tuple[Sliders, ...], _advice: Advice, _safer: Certainty | None
              ) -> tuple[StarPicture, ...]:
    """Return the star pictures of an advice with a verdict; the cache is keyed as `advice_for`."""
    if _advice.scene is None or _advice.need is None:
        return ()
    return star_strip(_advice.scene, _advice.need, _advice.star, _safer)


def page() -> None:
    """Show the page."""
    chosen = choose()
    top = st.container(key="verdict")
    form = _form(chosen)
    try:
        with top:
            tried = taken(chosen)
        advice = advice_for(chosen.key, form, tried, False, chosen)
    except PlannerError as error:
        st.error(plain(error))
        st.stop()
    head = top.empty()
    head.header(plain(headline(advice)), anchor=False)
    if advice.need is None:
        top.info(plain(f"{advice.window.reason} Choose another target, a lower altitude limit, or another site."))
        return
    future = sureness_for(chosen.key, form, tried, advice)

    @cache
    def sure() -> Certainty:
        return answered(future, sureness_for)

    finish = _verdict(top, advice, sure)
    _behind(advice, chosen, form, tried, sure)
    finish()
    head.header(plain(headline(advice, sure())), anchor=False)


def _form(chosen: Chosen) -> AdviceForm:
    columns = st.columns(5)
    name = settings.pick("filter", "Filter", [band.name for band in chosen.rig.filters], place=columns[0])
    usual = goal_for(filter_named(chosen.rig, name))
    brightness = settings.number(
        "brightness", "Faintest part to show (mag/arcsec²)", None, settings.bare(SURFACE_RULE), place=columns[1],
        placeholder="a line instead" if usual.brightness is None else f"{usual.brightness.value:g}",
        help="Its surface brightness: the goal that the total exposure is for.")
    line = settings.number(
        "line", "Or its emission line (rayleigh)", None, settings.bare(LINE_RULE), place=columns[2],
        placeholder="for a narrow filter" if usual.line is None else f"{usual.line.value:g}",
        help="Of the faint part of a nebula in this filter.")
    ratio = settings.number("ratio", "Signal-to-noise wanted", None, RATIO_RULE, place=columns[3],
                            placeholder=f"{usual.signal_to_noise:g}", help="On the area of sky beside it.")
    area = settings.number("area", "Area of sky (arcsec²)", float(GOAL_AREA.value), settings.bare(AREA_RULE),
                           place=columns[4], help="That the ratio is for: as large as the patches of faint dust.")
    return AdviceForm(filter=name, brightness=brightness, line=line, signal_to_noise=ratio, area_arcsec2=given(area))


def _verdict(top: st.delta_generator.DeltaGenerator, advice: Advice, sure: Callable[[], Certainty]
             ) -> Callable[[], None]:
    """Show the answer in one look; return what fills in how sure it is, which takes longest."""
    if not advice.tonight:
        top.warning(plain(f"{advice.window.absence} {OTHER_HOURS}"))
    left, right = top.columns([3, 2])
    lines, curve, known = left.empty(), right.empty(), glance(advice)
    first, last = SURENESS
    draw_lines(lines, [(first, WAITING), *known, (last, WAITING)], SURENESS)
    draw(curve, speed_chart(advice.verdict), "speed_chart")

    def finish() -> None:
        words = dict(sureness(advice.knowing(sure())))
        draw_lines(lines, [(first, words[first]), *glance(advice, sure()), (last, words[last])], SURENESS)
        safer = _safer(advice, sure())
        if safer is not None:
            draw(curve, speed_chart(advice.verdict, safer), "speed_chart_safer")

    return finish


def _safer(advice: Advice, sure: Certainty) -> Certainty | None:
    """Return how sure an advice is where its headline names the safer length, None elsewhere."""
    return sure if safer_text(sure, advice) else None


def _behind(advice: Advice, chosen: Chosen, form: AdviceForm, tried: tuple[Sliders, ...],
            sure: Callable[[], Certainty]) -> None:
    """Show what lies behind the answer, each part worked out when it is opened."""
    key = chosen.key

    def full() -> Advice:
        return advice_for(key, form, tried, True, chosen).knowing(sure())

    def ask_what_if(sliders: Sliders, band: str) -> Advice:
        return advice_for(key, replace(form, filter=band), (*tried, sliders), False, chosen)

    with _part("What if", "what_if") as is_open:
        if is_open:
            what_if(chosen, tried, advice, ask_what_if)

    def ask_rig(rig: Rig) -> Advice:
        bands = [band.name for band in rig.filters]
        asked = replace(form, filter=form.filter if form.filter in bands else bands[0])
        return advice_for(replace(key, rig=rig.name), asked, (), False, replace(chosen, rig=rig))

    with _part("Another rig beside it: answer, field, star", "beside") as is_open:
        if is_open:
            side_by_side(chosen, advice, ask_rig)
    with _part("Where the night goes, and what widens the star", "flow") as is_open:
        if is_open:
            _flow(advice)
    with _part("Why, and what would change it", "why") as is_open:
        if is_open:
            _why(full(), chosen.equipment)
    with _part("What moves the star", "moves") as is_open:
        if is_open:
            _moves(advice)
    with _part("The star as this camera records it", "star") as is_open:
        if is_open:
            _stars(stars_for(key, form, tried, advice, _safer(advice, sure())))
    with _part("All figures, and files to take away", "figures") as is_open:
        if is_open:
            _figures(advice)
            _downloads(full())


class _part:
    """A folded part of the page that says whether it is open."""

    def __init__(self, title: str, key: str):
        self.place = st.expander(title, key=f"advice_{key}", on_change="rerun")

    def __enter__(self) -> bool:
        self.place.__enter__()
        return bool(self.place.open)

    def __exit__(self, *error: object) -> None:
        self.place.__exit__(*error)


def _flow(advice: Advice) -> None:
    """Show where the night goes and what widens the star."""
    left, right = st.columns(2)
    parts = ((left, night_waterfall(advice), "hours", 1, NIGHT_SAYS),
             (right, star_waterfall(advice), "full width at half maximum (″)", 2, STAR_SAYS))
    for place, found, unit, digits, says in parts:
        if found is None:
            place.markdown("No sub keeps its stars round.")
            continue
        place.markdown(f"**{plain(found.title)}**")
        draw(place, waterfall_chart(found, unit, says, digits), f"waterfall_{digits}")
        place.caption(says)


def _why(advice: Advice, equipment: Equipment) -> None:
    """Show why, how sure, what would change it, and what the usual rules would lose."""
    parts = (("Why", advice.verdict.reasons), ("How sure", certainty_lines(advice)),
             ("What would change it", [*(change.sentence for change in advice.verdict.changes),
                                       *own_binning_lines(equipment, advice, stars_around)]),
             ("Rules of thumb (common practice, no source)", [rule.sentence for rule in rules_of_thumb(advice)]))
    left, right = st.columns(2)
    for place, (title, sentences) in zip((left, right, right, left), parts, strict=True):
        place.subheader(title, anchor=False)
        place.markdown("\n".join(f"- {plain(sentence)}" for sentence in sentences) or "No single change would do it.")
    for note in advice.notes:
        st.caption(plain(note))


def _moves(advice: Advice) -> None:
    need = advice.verdict
    way, more = (("guided", "all together") if need.better is need.guided else
                 ("unguided", "all drift together: causes may cancel each other"))
    st.markdown(f"Within one {way} sub of {need.better.recommended.to_value(u.s):.0f} s. Each cause alone, and {more}.")
    draw(st, budget_chart(need), "budget_chart")


def _stars(pictures: tuple[StarPicture, ...]) -> None:
    brightest = max((float(picture.share.max()) for picture in pictures), default=1.0)
    for method in dict.fromkeys(picture.method for picture in pictures):
        st.markdown(f"**{method}**")
        with st.container(horizontal=True, key=f"stars_{method}"):
            for place, picture in enumerate(picture for picture in pictures if picture.method == method):
                draw(st, star_chart(picture, brightest), f"{method}_{place}", width="content")
    st.caption("The typical sub of each length without noise: north up, east left; all with the same light. "
               "Below each length the full width at half maximum, minor over major axis, and the share of subs kept.")


def _figures(advice: Advice) -> None:
    """Show the figures that the verdict rests on, and both ways side by side."""
    draw_lines(st, place_lines(advice))
    rows = way_rows(advice)
    names = ("", "unguided", "guided")[: len(rows[0])]
    st.table([dict(zip(names, row, strict=True)) for row in rows])


def _downloads(advice: Advice) -> None:
    columns = st.columns(3)
    columns[0].download_button("Result (JSON)", json_text(document(AdviceAnswer(advice)), "advise"), "advice.json",
                               "application/json", key="download_advice")
    columns[1].download_button("Speed curve (CSV)", csv_text(speed_frame(advice.verdict)), "speed.csv",
                               "text/csv", key="download_speed")
    columns[2].download_button("Error budget (CSV)", csv_text(budget_frame(advice.verdict)), "budget.csv",
                               "text/csv", key="download_budget")
