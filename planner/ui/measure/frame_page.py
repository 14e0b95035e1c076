"""Test frames: are the stars as they should be, and if not, what stretches them?"""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import streamlit as st
from astropy import units as u

from planner.charts.measure import seeing_chart
from planner.checks import Rule
from planner.errors import inert
from planner.fields import document
from planner.files.json_text import json_text
from planner.files.measured.frame_log import drift_log_text, stars_text
from planner.files.measured.frame_task import Task, measure_file
from planner.files.measured.seeing_record import keep_seeing, kept_nights
from planner.files.own_files import packaged_data
from planner.files.reading import InMemory
from planner.measure.drift.report import FEWEST_ROWS
from planner.measure.frame.model import FrameFiles, Known, Measured, rig_scale
from planner.measure.frame.night import why_no_seeing
from planner.measure.frame.report import Report, reported, series_log
from planner.measure.frame.series_text import next_lines, seeing_lines
from planner.measure.frame.text import ONE_FRAME
from planner.rig.equipment import find_by_name
from planner.ui import whose
from planner.ui.choices import Chosen, choose, equipment_file, said, say_after
from planner.ui.drawing import draw
from planner.ui.measure.frame_pictures import show_frame, show_series
from planner.ui.measure.saving import tried
from planner.ui.measure.uploads import digest, gear, keep_file, upload_digest
from planner.ui.measure.watching import KEPT, offer_to_watch, watched
from planner.ui.plain import plain
from planner.ui.settings import number
from planner.ui.upload_memory import opened

DEMO = "frame_demo.fits"
HEADER = "as the header says"
EXPOSURE = Rule(at_least=0.001, at_most=1e5, remedy="Give seconds, e.g. 60.")
TURN = Rule(at_least=-360, at_most=360, remedy="Give degrees, e.g. 90.")
LEVEL = Rule(at_least=1, remedy="Give the value of a full pixel, e.g. 65535.")
MOSAICS = (HEADER, "none", "RGGB", "BGGR", "GRBG", "GBRG")
SERIES = (f"Hand in a series instead: {FEWEST_ROWS} or more short frames of one field, unguided, with times in their "
          "headers, such as 5 s every 20 s for an hour.")
SENTENCE = {"keep": "Keep it", "look": "Look at it", "reject": "Reject it"}


@dataclass(frozen=True)
class FrameForm:
    """The values of this page's own widgets; None: as the header, or else the rig, says."""

    filter: str
    guided: bool
    at_target: bool
    exposure_s: float | None
    hour_angle_deg: float | None
    camera_angle_deg: float | None
    mirrored: bool
    colour: str
    mosaic: str | None
    saturation: float | None


@st.cache_data(max_entries=300, show_spinner=False)
def measured_for(key: tuple[Any, ...], _given: Any, _form: FrameForm, _chosen: Chosen) -> Measured:
    """Return one frame's stars; the cache is keyed on the file's digest and on how it is measured."""
    file = _given if isinstance(_given, InMemory) else InMemory(inert(_given.name), _given.getvalue())
    return measure_file(_task(file, _form, _chosen))


@st.cache_data(max_entries=50, show_spinner="Looking for causes")
def report_for(key: tuple[Any, ...], _good: list[Measured], _known: Known) -> Report:
    """Return what follows from measured frames; keyed on their digests, on the form and on what was chosen."""
    return reported(_good, _known)


def page() -> None:
    """Show the page."""
    chosen, watch = choose(), watched()
    given, kept = ([], None) if watch else _handed_in()
    demo = watch is None and kept is None and not given
    whose.about("frame", demo, "the demo's frame, not yours" if demo else "your frames")
    form = _form(chosen)
    offer_to_watch(lambda path: _task(path, form, chosen))
    if watch is not None:
        measured, keys = watch.kept
    else:
        measured, keys = kept if kept is not None else _measured(given, form, chosen)
    if given:
        st.session_state[KEPT] = measured, keys
    good = [item for item in measured if item.error is None]
    for item in measured:
        if item.error is not None:
            st.error(str(item.error))
    if not good:
        if watch is None:
            st.info("No frame could be measured.")
        return
    known = _known(form, chosen, good)
    where = gear(chosen.key) if known.target is None else chosen.key
    report = tried(lambda: report_for((where, form, *keys), good, known))
    if report is None:
        return
    shown = 0
    if len(report.frames) > 1:
        st.header(_series_headline(report), anchor=False)
        st.markdown("\n".join(f"- {line}" for line in next_lines(report)))
        show_series(report)
        names = [f"{place}: {one.path.name}" for place, one in enumerate(report.frames, start=1)]
        # Of frames that arrive the newest is shown, until another is picked.
        newest, key = (0, "frame_picked") if watch is None else (len(names) - 1, f"frame_picked_{len(names)}")
        shown = names.index(st.selectbox("Look at one", names, index=newest, key=key))
    item = report.frames[shown]
    st.header(plain(f"{'The demo frame. ' if demo else ''}{SENTENCE[item.grade.verdict]}: "
                    f"{'; '.join(item.grade.reasons) or 'within your tolerance'}"), anchor=False)
    show_frame(item, good[shown].picture, report.known, compared=not demo or chosen.equipment.is_demo)
    _into_the_mount(report)
    if not demo:
        _into_the_site(report, chosen)
    _downloads(report)


def _handed_in() -> tuple[list[Any], tuple[list[Measured], list[str]] | None]:
    """Show the uploader; return the files in it, or else what was measured of those handed in before."""
    # Any file is taken, so that one of a wrong kind is named here and does not leave another frame's verdict standing.
    given = opened(st.file_uploader(
        "Test frames (FITS), in order of time", accept_multiple_files=True, key="frame_files", on_change=_forget,
        help="They stay in memory and are written nowhere."), "frame_files")
    kept: tuple[list[Measured], list[str]] | None = None if given else st.session_state.get(KEPT)
    if kept is not None:
        left, right = st.columns([4, 1])
        left.caption(f"{len(kept[0])} frame{'s' if len(kept[0]) > 1 else ''} as measured before; hand in again what "
                     "shall be measured otherwise.")
        right.button("Remove them", key="frame_drop", on_click=_forget)
    elif not given:
        st.caption("This is the demo: an invented minute without guiding through the 200 mm reflector, trailed, with "
                   "some tilt and coma. Hand in a frame of your own: 30 to 120 s, unguided, a field of many stars.")
    return given, kept


def _forget() -> None:
    """Let go of the frames that were measured before."""
    st.session_state.pop(KEPT, None)


def _form(chosen: Chosen) -> FrameForm:
    with st.expander("What the headers do not say"):
        first, second, third = st.columns(4), st.columns(4), st.columns(4)
        band = first[0].selectbox("Filter", [item.name for item in chosen.rig.filters], key="frame_filter")
        guided = first[1].toggle("The frames were guided", False, key="frame_guided",
                                 help="No motion is expected then.")
        at_target = first[2].toggle("They show the chosen target", False, key="frame_at_target",
                                    help="Otherwise the place in the header counts; without one, the target.")
        exposure = number("frame_exposure", "Exposure (s)", None, EXPOSURE, place=second[0], placeholder=HEADER)
        hour = number("frame_hour", "Hour angle at the start (°)", None, TURN, place=second[1],
                      placeholder="from time and site")
        angle = number("frame_angle", "Camera angle (°)", None, TURN, place=second[2], placeholder=HEADER,
                       help="Position angle of the direction in which rows grow.")
        mirrored = second[3].toggle("Mirrored", False, key="frame_mirrored", help="East lies right of north.")
        colour = third[0].selectbox("Colour", ["green", "red", "blue"], key="frame_colour",
                                    help="Of frames with colours.")
        mosaic = third[1].selectbox("Colour mosaic", MOSAICS, key="frame_mosaic")
        level = number("frame_saturation", "Pixels clip at", None, LEVEL, place=third[2], placeholder=HEADER)
    return FrameForm(
        filter=band, guided=guided, at_target=at_target, exposure_s=exposure, hour_angle_deg=hour,
        camera_angle_deg=angle, mirrored=mirrored, colour=colour, mosaic=None if mosaic == HEADER else mosaic,
        saturation=level)


def _measured(given: Sequence[Any], form: FrameForm, chosen: Chosen) -> tuple[list[Measured], list[str]]:
    """Return the frames as measured, and a key for each; those that are new are measured under a progress bar."""
    files = list(given) or [InMemory(DEMO, packaged_data(DEMO).read_bytes())]
    keys = [digest(file) if isinstance(file, InMemory) else upload_digest(file) for file in files]
    how = (chosen.key.equipment, chosen.key.rig, form.filter, form.colour, form.mosaic, form.saturation)
    bar = st.progress(0.0, text="Measuring") if len(files) > 1 else None
    found = []
    with st.spinner("Measuring the stars"):
        for place, (file, key) in enumerate(zip(files, keys, strict=True)):
            if bar is not None:
                bar.progress(place / len(files), text=f"Measuring {inert(file.name)}, {place + 1} of {len(files)}")
            found.append(measured_for((key, *how), file, form, chosen))
    if bar is not None:
        bar.empty()
    return found, keys


def _task(file: InMemory | Path, form: FrameForm, chosen: Chosen) -> Task:
    return Task(path=file, picture=True, colour=form.colour, mosaic=form.mosaic, saturation=form.saturation,
                image_scale=rig_scale(chosen.rig), telescope=chosen.rig.telescope,
                wavelength=find_by_name("filter", chosen.rig.filters, form.filter).centre)


def _known(form: FrameForm, chosen: Chosen, good: Sequence[Measured]) -> Known:
    """Return what is known beside the frames."""
    lost = any(item.frame is not None and item.frame.ra is None for item in good)

    def angle(value: float | None) -> u.Quantity | None:
        return None if value is None else value * u.deg

    return Known(
        rig=chosen.rig, site=chosen.site, band=find_by_name("filter", chosen.rig.filters, form.filter),
        target=chosen.target if form.at_target or lost else None, scale=None, guided=form.guided,
        camera_angle=angle(form.camera_angle_deg), mirrored=form.mirrored, hour_angle=angle(form.hour_angle_deg),
        exposure=None if form.exposure_s is None else form.exposure_s * u.s,
        axis_ratio=chosen.rig.tolerated_axis_ratio, growth=chosen.rig.tolerated_growth)


def _series_headline(report: Report) -> str:
    counts = {verdict: sum(item.grade.verdict == verdict for item in report.frames) for verdict in SENTENCE}
    return f"{len(report.frames)} frames: " + ", ".join(f"{verdict} {count}" for verdict, count in counts.items())


def _downloads(report: Report) -> None:
    columns = st.columns(2)
    columns[0].download_button("Result (JSON)", json_text(document(report, FrameFiles()), "frame"), "frames.json",
                               "application/json", key="download_frames")
    stars = stars_text([(item.path.name, item.field) for item in report.frames])
    columns[1].download_button("Stars (CSV)", stars, "stars.csv", "text/csv", key="download_stars")


def _into_the_site(report: Report, chosen: Chosen) -> None:
    """Show the seeing of the night, and keep it for the site when asked."""
    saved = said("saved_seeing")
    if saved is not None:
        st.success(plain(saved[0]))
    seeing = report.seeing
    nights = [] if chosen.equipment.is_demo else tried(lambda: kept_nights(equipment_file(), chosen.site)) or []
    st.subheader(plain(f'What this says about the site "{chosen.site.name}"'), anchor=False)
    if nights:
        draw(st, seeing_chart(nights), "frame_nights")
    if seeing is None:
        rule, remedy = why_no_seeing(report.frames, report.known)
        st.info(plain(f"Nothing of its seeing, which {rule}. {remedy}"))
        return
    st.markdown(plain(" ".join(seeing_lines(report))))
    if st.button("Keep it for the site", key="frame_keep_seeing", disabled=chosen.equipment.is_demo,
                 help="Added to the record of its nights, which make its usual seeing and how much it varies."):
        kept = tried(lambda: keep_seeing(equipment_file(), chosen.site, seeing))
        if kept is not None:
            say_after("saved_seeing", kept.sentence)
            st.rerun()


def _into_the_mount(report: Report) -> None:
    """Say what the frames tell of the mount, and lead a series of them to where it can be saved."""
    st.subheader("What this says about the mount", anchor=False)
    if len(report.frames) < 2:
        st.info(f"{ONE_FRAME} Nor does it tell which of its two ways the star went, or the period of an error: nothing "
                f"of it is saved. {SERIES}")
        return
    if report.known.guided:
        st.info(f"These frames were guided: they show what guiding left, not what the mount does. {SERIES}")
        return
    log = tried(lambda: series_log(report))
    if log is None:
        return
    text = drift_log_text(log)
    st.markdown(f"From frame to frame the stars show which way they went, and when: {len(log.time)} of "
                f"{len(report.frames)} frames agree on their stars and make a drift log. Rates, periodic error, wander "
                "and jitter follow from it, and from there they are saved.")
    with st.container(horizontal=True):
        wanted = st.button("Open it under Drift and polar alignment", key="frame_to_drift", type="primary",
                           disabled=len(log.time) < FEWEST_ROWS)
        st.download_button("The stars' motion as a drift log (CSV)", text, "series.csv", "text/csv",
                           key="download_series")
    if len(log.time) < FEWEST_ROWS:
        st.caption(f"A drift log needs at least {FEWEST_ROWS} rows. {SERIES}")
    if wanted:
        keep_file("drift_file", InMemory("series.csv", text.encode()))
        goal = st.session_state.get("pages", {}).get("measure.drift_page")
        if goal is not None:
            st.switch_page(goal)
        st.success('The series waits as a log on the page “Drift and polar alignment”.')
