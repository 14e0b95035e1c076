"""Choose the combination: what the observer owns, ranked for a target and the seeing, two laid side by side."""

from dataclasses import dataclass, replace

import pandas as pd
import streamlit as st
from astropy import units as u

from planner.charts.combinations import combinations_frame, trade_chart
from planner.errors import PlannerError
from planner.exposure.depth import Goal
from planner.files.csv_text import csv_text
from planner.files.json_text import json_text
from planner.rig.equipment import find_by_name
from planner.session.advice.answer import filter_named
from planner.session.match.combinations import BINNINGS, Combinations, rank_combinations
from planner.session.match.document import combinations_document
from planner.session.match.guiding_choice import OnMount, on_mount
from planner.session.match.ranking import RANKINGS
from planner.session.match.text import (
    field_text,
    headline,
    limited_by,
    limits,
    mount_text,
    ranking_text,
    side_by_side,
    target_text,
    time_text,
    whole_times,
)
from planner.ui import settings
from planner.ui.choices import Choice, Chosen, choose

JUDGED = 5  # choices that are asked of the mount as the page opens
NO_GUIDER = "none"
RANK_NAMES = {"detail": "fine detail", "surface": "faint surface", "sharpness": "sharp stars", "field": "field"}


@dataclass(frozen=True)
class MatchForm:
    """The values of this page's own widgets."""

    any_field: bool
    filter: str
    mount: str
    guider: str
    seeing_arcsec: float | None  # None: the site's
    brightness: float | None  # mag/arcsec2; None: the catalogue's
    signal_to_noise: float
    ranking: str
    binnings: tuple[int, ...]


@st.cache_data(max_entries=100, show_spinner="Weighing every combination")
def combinations_for(key: Choice, form: MatchForm, _chosen: Chosen) -> Combinations:
    """Return the ranking; the cache is keyed on what was chosen, in plain texts and numbers."""
    equipment, site = _chosen.equipment, _chosen.site
    guider = None if form.guider == NO_GUIDER else find_by_name("guider", equipment.guiders, form.guider)
    rig = replace(_chosen.rig, mount=find_by_name("mount", equipment.mounts, form.mount), guider=guider)
    if form.seeing_arcsec is not None:
        site = replace(site, seeing=form.seeing_arcsec * u.arcsec)
    brightness = None if form.brightness is None else form.brightness * u.mag / u.arcsec**2
    return rank_combinations(
        equipment, rig, site, filter_named(rig, form.filter), target=None if form.any_field else _chosen.target,
        goal=Goal(brightness=brightness, signal_to_noise=form.signal_to_noise), ranking=form.ranking,
        binnings=form.binnings)


@st.cache_data(max_entries=400, show_spinner="Checking tracking")
def judged_for(key: Choice, form: MatchForm, rank: int, _asked: Combinations) -> OnMount:
    """Return what the mount makes of the choice of one rank."""
    return on_mount(_asked, _asked.ranked[rank - 1])


def page() -> None:
    """Show the page."""
    chosen = choose()
    form = _form(chosen)
    if form is None:
        return
    # Neither night nor limit plays a part: another one must not weigh everything again.
    key = replace(chosen.key, night="", lowest_altitude_deg=0.0)
    try:
        asked = combinations_for(key, form, chosen)
    except PlannerError as error:
        st.error(str(error))
        st.stop()
    st.header(headline(asked), anchor=False)
    if not asked.ranked:
        st.info("The target never stands high enough here. Choose another target or another site.")
        return
    _best(asked)
    _table(asked)
    _trade(asked)
    judged = _on_the_mount(key, form, asked)
    pair = _side_by_side(key, form, asked)
    _downloads(asked, judged | {on.combination.rank: on for on in pair}, [on.combination.rank for on in pair])


def _form(chosen: Chosen) -> MatchForm | None:
    """Show the widgets of this page; None where a value is missing."""
    equipment, rig = chosen.equipment, chosen.rig
    top = st.columns([2, 2, 2, 3], vertical_alignment="bottom")
    ranking = top[0].selectbox("Rank on", list(RANKINGS), format_func=lambda name: RANK_NAMES[name], key="match_rank")
    band = settings.pick("filter", "Filter", [item.name for item in rig.filters], place=top[1])
    seeing = top[2].number_input("Seeing at the zenith (arcsec)", 0.3, 10.0, None, 0.1, key="match_seeing",
                                 placeholder=f"{chosen.site.seeing.value:g} as usual")
    any_field = top[3].toggle("Any field, no target", key="match_any_field")
    with st.expander("Goal, binning, mount and guider"):
        first, second = st.columns(3), st.columns(2)
        brightness = first[0].number_input(
            "Surface brightness (mag/arcsec²)", 10.0, 32.0, None, 0.5, key="match_brightness",
            placeholder="from the catalogue", help="Of the faint part you want to show.")
        ratio = first[1].number_input("Signal-to-noise wanted", 1.0, 1000.0, 10.0, 1.0, key="match_ratio",
                                      help="On 25 square arcseconds of sky.")
        binnings = first[2].multiselect("Binning", [1, 2, 3, 4], default=list(BINNINGS), key="match_binning")
        if not binnings:
            first[2].error("Binning = none: must be at least one. Choose 1 for single pixels.")
        mounts = [item.name for item in equipment.mounts]
        guiders = [NO_GUIDER, *(item.name for item in equipment.guiders)]
        own = NO_GUIDER if rig.guider is None else rig.guider.name
        # Keys with the rig's name: another rig starts from its own mount and guider.
        mount = second[0].selectbox("Mount", mounts, index=mounts.index(rig.mount.name), key=f"match_mount_{rig.name}")
        guider = second[1].selectbox("Guider", guiders, index=guiders.index(own), key=f"match_guider_{rig.name}")
    if not binnings:
        return None
    return MatchForm(any_field=any_field, filter=band, mount=mount, guider=guider, seeing_arcsec=seeing,
                     brightness=brightness, signal_to_noise=ratio, ranking=ranking, binnings=tuple(sorted(binnings)))


def _best(asked: Combinations) -> None:
    """Show the figures of the best choice and what limits it."""
    best = asked.ranked[0]
    surface, detail = whole_times(asked, best)
    per = "whole target" if asked.target is not None else "one square degree"
    figures = [
        ("Stars", f"{best.fwhm.value:.2f}″", f"{best.fwhm_pixels:.1f} pixels of {best.image_scale.value:.2f}″; "
                                            f"{best.resolution_lost:.0%} of the width is lost to the pixel"),
        ("Field", field_text(best), target_text(asked, best) and f"holds {target_text(asked, best)} of the target"
         if best.framing.panels == 1 else f"{best.framing.panels} panels; one holds {best.framing.share:.0%}"),
        ("Faint surface", time_text(surface), f"{per}, subs of {best.sub_exposure.to_value(u.s):g} s"),
        ("Fine detail", time_text(detail), per),
    ]
    for column, (label, value, more) in zip(st.columns(4), figures, strict=True):
        column.metric(label, value)
        column.caption(more)
    st.markdown("\n".join(f"- {limit.sentence}" for limit in limits(asked, best)))
    for note in asked.notes:
        st.caption(note)


def _table(asked: Combinations) -> None:
    """Show the ranking."""
    beaten = sum(choice.outclassed_by is not None for choice in asked.ranked)
    st.subheader("All you own, ranked", anchor=False)
    everything = st.toggle(f"Show the {beaten} outclassed choices too", key="match_all") if beaten else True
    has_size = asked.target is not None and asked.target.size_major is not None
    rows = []
    for choice in asked.ranked:
        if choice.outclassed_by is not None and not everything:
            continue
        surface, detail = whole_times(asked, choice)
        rows.append({
            "Rank": choice.rank, "Choice": choice.name, "Faint surface": time_text(surface),
            "Fine detail": time_text(detail), "Star (″)": choice.fwhm.value, "Star (pixels)": choice.fwhm_pixels,
            "Lost to the pixel (%)": 100 * choice.resolution_lost,
            **({"In one frame (%)": 100 * choice.framing.share, "Panels": choice.framing.panels} if has_size else {}),
            "Limited by": limited_by(asked, choice), "Field": field_text(choice),
            "Pixel (″)": choice.image_scale.value,
            **({"Outclassed by": choice.outclassed_by} if everything and beaten else {}),
        })
    formats = {"Pixel (″)": "%.2f", "Star (″)": "%.2f", "Star (pixels)": "%.1f", "Lost to the pixel (%)": "%.0f",
               "In one frame (%)": "%.0f"}
    st.dataframe(pd.DataFrame(rows), hide_index=True, width="stretch", key="match_table", column_config={
        "Rank": st.column_config.NumberColumn(pinned=True, width=50),
        **{name: st.column_config.NumberColumn(format=shape) for name, shape in formats.items()}})
    st.caption(f"{ranking_text(asked)} A choice is outclassed when another is nowhere worse and somewhere better: in "
               "the star's width, both times, panels and field.")


def _trade(asked: Combinations) -> None:
    """Show the picture of the trade."""
    st.subheader("Sharp stars against time", anchor=False)
    st.altair_chart(trade_chart(asked), theme=None, width="stretch", key="match_chart")
    st.caption("Down and to the left is better; a large dot holds much of the target in one frame. Numbers are ranks. "
               "Open dots are outclassed.")


def _on_the_mount(key: Choice, form: MatchForm, asked: Combinations) -> dict[int, OnMount]:
    """Show what the mount makes of the first choices."""
    wanted = [choice.rank for choice in asked.ranked if choice.outclassed_by is None][:JUDGED]
    judged = {rank: judged_for(key, form, rank, asked) for rank in wanted}
    guider = "without a guider" if asked.rig.guider is None else f"with the guider “{asked.rig.guider.name}”"
    st.subheader(f"On the mount “{asked.rig.mount.name}” {guider}", anchor=False)
    st.markdown("\n".join(f"- **{rank}** {on.combination.name}: {mount_text(asked, on)}"
                          for rank, on in judged.items()))
    per = "whole target" if asked.target is not None else "one square degree"
    st.caption(f"Times for the faint surface, {per}, with the subs that this mount keeps. A guide star is taken as "
               "found with 90 % probability; a pick-off looks through the telescope of the choice.")
    return judged


def _side_by_side(key: Choice, form: MatchForm, asked: Combinations) -> list[OnMount]:
    """Show two choices side by side."""
    if len(asked.ranked) < 2:
        return []
    st.subheader("Two side by side", anchor=False)
    ranks = [choice.rank for choice in asked.ranked]
    names = {choice.rank: f"{choice.rank}: {choice.name}" for choice in asked.ranked}
    columns = st.columns(2)
    first, second = (
        columns[place].selectbox(label, ranks, index=start, format_func=lambda rank: names[rank], key=name)
        for place, (label, name, start) in enumerate((("First", "match_first", 0),
                                                      ("Second", "match_second", _rival(asked)))))
    if first == second:
        columns[1].error(f"Second = {first}: must differ from the first. Choose another rank.")
        return []
    pair = [judged_for(key, form, rank, asked) for rank in (first, second)]
    rows = side_by_side(asked, *pair)
    st.table(pd.DataFrame({"First": [row.first for row in rows], "Second": [row.second for row in rows],
                           "Better": [row.better for row in rows]}, index=[row.label for row in rows]))
    return pair


def _rival(asked: Combinations) -> int:
    """Return the place of the best choice that differs from the first in more than its binning."""
    best = asked.ranked[0]
    return next((place for place, choice in enumerate(asked.ranked)
                 if (choice.train, choice.camera) != (best.train, best.camera)), 1)


def _downloads(asked: Combinations, judged: dict[int, OnMount], compared: list[int]) -> None:
    """Offer the result as JSON and the table as CSV."""
    columns = st.columns(2)
    columns[0].download_button(
        "Result (JSON)", json_text(combinations_document(asked, judged, compared), "match"), "combinations.json",
        "application/json", key="download_match")
    columns[1].download_button("Ranking (CSV)", csv_text(combinations_frame(asked)), "combinations.csv",
                               "text/csv", key="download_match_table")
