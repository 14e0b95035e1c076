"""Choose the combination: what the observer owns, ranked for a target and the seeing, two laid side by side."""

from collections.abc import Sequence
from concurrent.futures import Future
from dataclasses import dataclass, replace
from typing import Any

import pandas as pd
import streamlit as st
from astropy import units as u

from planner.charts.combinations import set_ups_frame, trade_chart
from planner.checks import Rule
from planner.errors import InvalidInputError, PlannerError
from planner.exposure.depth import AREA_RULE, GOAL_AREA, LINE_RULE, RATIO_RULE, SURFACE_RULE, Goal
from planner.exposure.reasons import percent
from planner.fields import document
from planner.files.csv_text import csv_text
from planner.files.forms.typed import typed_size
from planner.files.json_text import json_text
from planner.files.targets.stars import stars_around
from planner.rig import Rig, Site
from planner.rig.equipment import find_by_name
from planner.session.advice.answer import filter_named
from planner.session.advice.text import goal_text
from planner.session.match.answer import MatchAnswer
from planner.session.match.combinations import (
    APART_RULE,
    BINNINGS,
    PERIOD_RULE,
    STAR_RULE,
    Combinations,
    weigh_combinations,
)
from planner.session.match.pair import Row, side_by_side
from planner.session.match.ranking import RANKINGS, usual_ranking
from planner.session.match.set_ups import AS_GOOD, SetUp, set_ups
from planner.session.match.text import (
    as_good_text,
    binnings_text,
    causes_text,
    detail_text,
    field_text,
    finest_text,
    guider_text,
    headline,
    held_back_text,
    limits,
    ranking_text,
    reach_text,
    set_up_text,
    star_text,
    stars_text,
    target_text,
    time_text,
    width_text,
)
from planner.ui import settings
from planner.ui.choices import Choice, Chosen, choose
from planner.ui.decide.match_list import show_list
from planner.ui.drawing import draw
from planner.ui.outside import ask
from planner.ui.plain import plain
from planner.ui.settings import bare, number
from planner.ui.waiting import answered
from planner.visibility.target import Target

NO_GUIDER = "none"
SEEING = Rule(at_least=0.3, at_most=10, remedy="Give arcseconds, e.g. 2.5.")
EQUAL = Rule(at_least=0, at_most=50, remedy="Give a percentage, e.g. 10.")
RANK_NAMES = {"detail": "fine detail", "surface": "faint surface", "sharpness": "sharp stars", "field": "field",
              "stars": "faint stars"}


@dataclass(frozen=True)
class MatchForm:
    """The values of this page's own widgets."""

    any_field: bool
    filter: str
    mount: str
    guider: str
    seeing_arcsec: float | None  # None: the site's
    brightness: float | None  # mag/arcsec2; None: the usual one of the filter
    line: float | None  # rayleigh
    signal_to_noise: float | None  # None: the usual one of the filter
    ranking: str
    binnings: tuple[int, ...]
    as_good: float
    any_load: bool
    period_arcsec: float | None  # None: the usual one for the target
    drizzled: bool
    any_circle: bool
    area_arcsec2: float
    star_mag: float | None  # None: as bright as the goal's area
    apart_arcsec: float | None  # None: alone
    core: float | None  # mag/arcsec2, or rayleigh through a line filter; None: the target's mean light
    size_arcmin: tuple[float, float] | None  # None: that of the catalogue


# Shared, not copied: equal questions wait for one answer, worked out outside the pages' process.
@st.cache_resource(max_entries=100, show_spinner=False)
def set_ups_for(key: Choice, form: MatchForm, _chosen: Chosen) -> tuple[Combinations, Future[tuple[SetUp, ...]]]:
    """Return the question and the ranking to come; the cache is keyed on what was chosen, in plain texts."""
    equipment, (rig, site) = _chosen.equipment, rig_and_site(_chosen, form)
    brightness = None if form.brightness is None else form.brightness * u.mag / u.arcsec**2
    wanted: dict[str, Any] = {name: None if value is None else value * unit for name, value, unit in (
        ("period", form.period_arcsec, u.arcsec), ("star", form.star_mag, u.mag),
        ("apart", form.apart_arcsec, u.arcsec),
        ("core", form.core, u.R if filter_named(rig, form.filter).narrow else u.mag / u.arcsec**2))}
    target = None if form.any_field else _chosen.target
    if target is not None and form.size_arcmin is not None:
        target = replace(target, **dict(zip(("size_major", "size_minor"), form.size_arcmin * u.arcmin, strict=True)))
    asked = weigh_combinations(
        equipment, rig, site, filter_named(rig, form.filter), target=target,
        goal=Goal(brightness=brightness, signal_to_noise=form.signal_to_noise, area=form.area_arcsec2 * u.arcsec**2,
                  line=None if form.line is None else form.line * u.R), ranking=form.ranking,
        binnings=form.binnings, date=_chosen.night, lowest_altitude=_chosen.lowest_altitude, stars_around=stars_around,
        drizzled=form.drizzled, any_circle=form.any_circle, any_load=form.any_load, **wanted)
    return asked, ask(set_ups, asked, as_good=form.as_good)


def rig_and_site(chosen: Chosen, form: MatchForm) -> tuple[Rig, Site]:
    """Return the rig with the form's mount and guider, and the site with its seeing."""
    equipment, site = chosen.equipment, chosen.site
    guider = None if form.guider == NO_GUIDER else find_by_name("guider", equipment.guiders, form.guider)
    rig = replace(chosen.rig, mount=find_by_name("mount", equipment.mounts, form.mount), guider=guider)
    return rig, site if form.seeing_arcsec is None else replace(site, seeing=form.seeing_arcsec * u.arcsec)


@st.cache_data(max_entries=100, show_spinner="Laying two side by side")
def pair_for(key: Choice, form: MatchForm, ranks: tuple[int, ...], _asked: Combinations, _rows: Sequence[SetUp],
             ) -> tuple[tuple[Row, ...], str]:
    """Return two set-ups line by line, none where none are named, and the whole result as JSON; cached."""
    lines = side_by_side(_asked, *(_rows[rank - 1] for rank in ranks)) if ranks else ()
    return lines, json_text(document(MatchAnswer(_asked, _rows, ranks)), "match")


def page() -> None:
    """Show the page."""
    chosen = choose()
    form = _form(chosen)
    if form is None:
        return
    try:
        asked, future = set_ups_for(chosen.key, form, chosen)
        with st.spinner("Judging every set-up on the mount"):
            rows = answered(future, set_ups_for)
    except PlannerError as error:
        st.error(plain(error))
        st.stop()
    st.header(headline(asked, rows), anchor=False)
    if not rows:
        st.info("The target never stands high enough here. Choose another target or another site.")
        return
    _best(asked, rows, form)
    _table(asked, rows)
    _trade(asked, rows)
    lines, document = pair_for(chosen.key, form, _pair(rows), asked, rows)
    if lines:
        st.table(pd.DataFrame({"First": [line.first for line in lines], "Second": [line.second for line in lines],
                               "Better": [line.better for line in lines]}, index=[line.label for line in lines]))
    _downloads(asked, rows, document)
    show_list(chosen, *rig_and_site(chosen, form), form.as_good)


def _form(chosen: Chosen) -> MatchForm | None:
    equipment, rig = chosen.equipment, chosen.rig
    top = st.columns([2, 2, 2, 3], vertical_alignment="bottom")
    usual = usual_ranking(chosen.target)
    ranking = top[0].selectbox("Rank on", list(RANKINGS), list(RANKINGS).index(usual), key=f"match_rank_{usual}",
                               format_func=lambda name: RANK_NAMES[name])
    band = settings.pick("filter", "Filter", [item.name for item in rig.filters], place=top[1])
    seeing = number("match_seeing", "Seeing at the zenith (arcsec)", None, SEEING, place=top[2],
                    placeholder=f"{chosen.site.seeing.value:g} as usual")
    any_field = top[3].toggle("Any field, no target", key="match_any_field")
    with st.expander("Goal, size, binning, mount and guider"):
        first, third, second = st.columns(3), st.columns(4), st.columns(2)
        brightness = number("match_brightness", "Surface brightness (mag/arcsec²)", None, bare(SURFACE_RULE),
                            place=first[0], placeholder="as usual for the filter",
                            help="Of the faint part you want to show.")
        line = number("match_line", "Emission line (rayleigh)", None, bare(LINE_RULE), place=first[2],
                      placeholder="as usual for a narrow filter", help="Of the faint part of a nebula in this filter.")
        ratio = number("match_ratio", "Signal-to-noise wanted", None, RATIO_RULE, place=first[1],
                       placeholder="as usual for the filter", help="On the area of sky given below.")
        goals = _goals(third, next(item for item in rig.filters if item.name == band).narrow)
        binnings = first[0].multiselect("Binning", [1, 2, 3, 4], default=list(BINNINGS), key="match_binning")
        if not binnings:
            first[0].error("Binning = none: must be at least one. Choose 1 for single pixels.")
        mounts = [item.name for item in equipment.mounts]
        guiders = [NO_GUIDER, *(item.name for item in equipment.guiders)]
        own = NO_GUIDER if rig.guider is None else rig.guider.name
        # Keys with the rig's name: another rig starts from its own mount and guider.
        as_good = number("match_as_good", "Equal within (% of the time)", 100 * AS_GOOD, EQUAL, place=first[1],
                         help="And what simplicity is worth: half the panels a fifth of this, half the load, "
                              "data, focus runs or time for the faint surface a tenth.")
        any_load = first[2].toggle("Any load", key="match_any_load",
                                   help="A load beyond the mount's rating ranks no set-up lower.")
        period = number("match_period", "Detail wanted (arcsec)", None, bare(PERIOD_RULE), place=first[1],
                        placeholder="6, or a thousandth of the target",
                        help="The period of a pattern, from bright to bright.")
        drizzled = first[2].toggle("Drizzle", key="match_drizzle", help="Dithered frames are put on a finer grid: "
                                                                        "detail down to one pixel instead of two.")
        any_circle = first[2].toggle("Whole sensor", key="match_any_circle",
                                     help="Counts the sensor's corners where the optics do not light them.")
        size = None if any_field else _size(first[0], chosen.target)
        mount = second[0].selectbox("Mount", mounts, index=mounts.index(rig.mount.name), key=f"match_mount_{rig.name}")
        guider = second[1].selectbox("Guider", guiders, index=guiders.index(own), key=f"match_guider_{rig.name}")
    if not binnings:
        return None
    return MatchForm(any_field=any_field, filter=band, mount=mount, guider=guider, seeing_arcsec=seeing,
                     brightness=brightness, line=line, signal_to_noise=ratio, ranking=ranking,
                     binnings=tuple(sorted(binnings)), as_good=(as_good or 0.0) / 100, any_load=any_load,
                     period_arcsec=period, drizzled=drizzled, any_circle=any_circle, size_arcmin=size,
                     **goals)


def _size(place: st.delta_generator.DeltaGenerator, target: Target) -> tuple[float, float] | None:
    """Show the field of the target's own size; none where it is left as it is, or no size."""
    axes = [axis.to_value(u.arcmin) for axis in (target.size_major, target.size_minor) if axis is not None]
    usual = " × ".join(f"{axis:.3g}′" for axis in axes) or "not known"
    typed = place.text_input("Target's size", key=f"match_size_{target.name}", placeholder=usual,
                             help='If you know better: "3x2 deg", "30 arcmin".')
    if not typed.strip():
        return None
    try:
        major, minor = typed_size("Target's size", typed)
    except InvalidInputError as error:
        place.error(plain(f"{error} Below it is left as it was."))
        settings.mark_stale("Target's size")
        return None
    return float(major.to_value(u.arcmin)), float(minor.to_value(u.arcmin))


def _goals(places: Sequence[st.delta_generator.DeltaGenerator], narrow: bool) -> dict[str, Any]:
    """Show what else may be wanted: an area, a star and its neighbour, a bright core."""
    area = number("match_area", "Area of sky (arcsec²)", float(GOAL_AREA.value), bare(AREA_RULE), place=places[0],
                  help="That the ratio is for: as large as the patches of faint dust.")
    star = number("match_star", "Faintest star (mag)", None, bare(STAR_RULE), place=places[1],
                  placeholder="as the area's light")
    apart = number("match_apart", "Its neighbour (arcsec)", None, bare(APART_RULE), place=places[2], placeholder="none",
                   help="Distance of another star as bright.")
    name, rule = ("Bright core (rayleigh)", LINE_RULE) if narrow else ("Bright core (mag/arcsec²)", SURFACE_RULE)
    core = number(f"match_core_{narrow}", name, None, bare(rule), place=places[3], placeholder="the mean light",
                  help="Brightest part of the target.")
    return {"area_arcsec2": area, "star_mag": star, "apart_arcsec": apart, "core": core}


def _best(asked: Combinations, rows: Sequence[SetUp], form: MatchForm) -> None:
    best, choice = rows[0], rows[0].choice
    guider = "no guider" if asked.rig.guider is None else f"guider “{asked.rig.guider.name}”"
    st.caption(plain(f"On the mount “{asked.rig.mount.name}”, {guider}"))
    per = "whole target" if asked.target is not None else "one square degree"
    stars = f"stars of {width_text(choice)}"
    figures = [
        ("On this mount", set_up_text(best), f"binning {binnings_text(best)}"),
        ("Faint surface", time_text(best.surface_time), f"{goal_text(asked.goal, asked.band)}, {per}"),
        ("Faint stars", time_text(best.star_time), f"{star_text(asked)}, {per}; {stars}") if asked.ranking == "stars"
        else ("Fine detail", time_text(best.detail_time), f"{detail_text(asked, best, per)}; {stars}"),
        ("Field", field_text(choice), target_text(asked, choice) and f"holds {target_text(asked, choice)} of the target"
         if choice.framing.panels == 1
         else f"{choice.framing.panels} panels; one holds {percent(choice.framing.share)}"),
    ]
    for column, (label, value, more) in zip(st.columns(4), figures, strict=True):
        column.metric(label, value)
        column.caption(more)
    sentences = [as_good_text(asked, rows, form.as_good), held_back_text(asked, rows, form.as_good),
                 guider_text(asked, rows), stars_text(asked, best), *(limit.sentence for limit in limits(asked, best))]
    st.markdown("\n".join(f"- {text}" for text in sentences if text))


def _table(asked: Combinations, rows: Sequence[SetUp]) -> None:
    beaten = sum(row.outclassed_by is not None and not row.as_good for row in rows)
    st.subheader("All you own, ranked", anchor=False)
    those = "outclassed set-up" if beaten == 1 else f"{beaten} outclassed set-ups"
    everything = st.toggle(f"Show the {those} too", key="match_all") if beaten else True
    has_size = asked.target is not None and asked.target.size_major is not None
    lines = []
    for row in rows:
        choice = row.choice
        if row.outclassed_by is not None and not (everything or row.as_good):
            continue
        lines.append({
            "Rank": row.rank, "Set-up": row.name, "As good": row.as_good, "On the mount": set_up_text(row),
            "Limited by": causes_text(asked, row),
            "Faint surface": time_text(row.surface_time), "Fine detail": time_text(row.detail_time),
            "Faint stars": time_text(row.star_time), "Finest detail": finest_text(row),
            "Depth": reach_text(row), "Binning": binnings_text(row),
            "Star (″)": choice.fwhm.value, "Star (pixels)": choice.fwhm_pixels,
            "In a picture (″)": choice.picture_fwhm.value,
            "Lost to the pixel (%)": 100 * choice.resolution_lost,
            **({"In one frame (%)": 100 * choice.framing.share, "Panels": choice.framing.panels} if has_size else {}),
            "Field": field_text(choice), "Pixel (″)": choice.image_scale.value,
            "Data (GB/h)": row.data.value,
            **({"Outclassed by": row.outclassed_by} if everything and beaten else {}),
        })
    formats = {"Pixel (″)": "%.2f", "Star (″)": "%.1f", "Star (pixels)": "%.1f", "In a picture (″)": "%.1f",
               "Lost to the pixel (%)": "%.0f", "In one frame (%)": "%.0f", "Data (GB/h)": "%.1f"}
    st.dataframe(pd.DataFrame(lines), hide_index=True, width="stretch", key="match_table",
                 alt="All set-ups, ranked.", column_config={
        "Rank": st.column_config.NumberColumn(pinned=True, width=50),
        **{name: st.column_config.NumberColumn(format=shape) for name, shape in formats.items()}})
    st.caption(f"{ranking_text(asked, rows)} A set-up is outclassed when another that works is nowhere clearly worse "
               "and somewhere clearly better: in all times, the star's width, panels and field. An off-axis guider "
               "looks through the telescope of the set-up.")


def _trade(asked: Combinations, rows: Sequence[SetUp]) -> None:
    if not any(row.works for row in rows):
        return
    if len(rows) == 1:
        st.caption("You own one set-up: with a second telescope, reducer or camera in your equipment, sharp stars are "
                   "drawn against time here.")
        return
    st.subheader("Sharp stars against time", anchor=False)
    draw(st, trade_chart(asked, rows), "match_chart")
    st.caption("Down and to the left is better; a large dot holds much of the target in one frame. Numbers are ranks. "
               "Open dots are outclassed, too heavy or do not work.")


def _pair(rows: Sequence[SetUp]) -> tuple[int, ...]:
    """Ask for two set-ups and return their ranks; none where there are not two."""
    if len(rows) < 2:
        return ()
    st.subheader("Two side by side", anchor=False)
    names = {row.rank: f"{row.rank}: {row.name}" for row in rows}
    columns = st.columns(2)
    first, second = (
        columns[place].selectbox(label, list(names), index=place, format_func=lambda rank: names[rank], key=name)
        for place, (label, name) in enumerate((("First", "match_first"), ("Second", "match_second"))))
    if first == second:
        columns[1].error(f"Second = {first}: must differ from the first. Choose another rank.")
        return ()
    return first, second


def _downloads(asked: Combinations, rows: Sequence[SetUp], document: str) -> None:
    columns = st.columns(2)
    columns[0].download_button("Result (JSON)", document, "match.json", "application/json", key="download_match")
    columns[1].download_button("Ranking (CSV)", csv_text(set_ups_frame(asked, rows)), "match.csv",
                               "text/csv", key="download_match_table")
