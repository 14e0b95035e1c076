"""Polar alignment: from drifts of two stars or from solved positions, with what to turn and whether it matters."""

from dataclasses import dataclass, replace

import streamlit as st
from astropy import units as u

from planner.charts.measure import axis_chart, axis_frame
from planner.checks import Rule, given
from planner.fields import document
from planner.files.csv_text import csv_text
from planner.files.equipment.changed_advice import Effect
from planner.files.json_text import json_text
from planner.files.logs import SolvedPositions, read_positions
from planner.files.reading import InMemory
from planner.measure.drift.doubts import latitude_doubt
from planner.measure.pointing.mount import axis_figures
from planner.measure.polar.alignment import (
    PolarAlignment,
    alignment_from_positions,
    ground_directions,
    utc_times,
)
from planner.measure.polar.drift import DriftRun, alignment_from_drift
from planner.measure.polar.remedy import Adjuster, screw_turns
from planner.measure.polar.text import axis_headline, axis_lines
from planner.rig import Site
from planner.ui import whose
from planner.ui.choices import Choice, Chosen
from planner.ui.drawing import draw
from planner.ui.measure.saving import save_figures, tried
from planner.ui.measure.uploads import digest, gear, log_or_demo
from planner.ui.plain import plain
from planner.ui.settings import ask_for_rows, number

DRIFTS, POSITIONS = "two drifts", "solved positions"
ANGLE = "Give degrees."
RUN_COLUMNS = {
    "hour angle (°)": Rule(at_least=-180, at_most=180, remedy=ANGLE),
    "declination (°)": Rule(at_least=-89, at_most=89, remedy=ANGLE),
    "minutes": Rule(at_least=0.1, at_most=720, remedy="Give minutes."),
    "Dec drift (″/min)": Rule(at_least=-999, at_most=999, remedy="Give arcseconds a minute, north positive."),
    "± (″/min)": Rule(at_least=0.001, at_most=99, remedy="Give its error in arcseconds a minute."),
}
SCREW = Rule(at_least=0.1, at_most=2000, remedy="Give millimetres.")
# Invented: what the axis of the demo positions does to two stars, the air included (47.4 deg north).
DEMO_RUNS = ((-5.0, 5.0, 8.0, 0.56, 0.05), (-75.0, 20.0, 8.0, 0.18, 0.05))
SKY_COLUMNS, GROUND_COLUMNS = ("time (UTC)", "RA (°)", "Dec (°)"), ("hour angle (°)", "declination (°)")
POSITION_RULES = {name: Rule(at_least=-360, at_most=360, remedy=ANGLE)
                  for name in (*SKY_COLUMNS[1:], *GROUND_COLUMNS)} | {SKY_COLUMNS[0]: None}


@dataclass(frozen=True)
class PolarForm:
    """What the axis is found from: rows of numbers and texts."""

    method: str
    rows: tuple[tuple[float | str, ...], ...]
    columns: tuple[str, ...]
    latitude_deg: float
    longitude_deg: float
    air: bool


@st.cache_data(max_entries=100, show_spinner="Finding the axis")
def alignment_for(key: Choice, form: PolarForm, _site: Site) -> PolarAlignment:
    """Return the polar axis; the cache is keyed on the rows."""
    place = replace(_site, latitude=form.latitude_deg * u.deg, longitude=form.longitude_deg * u.deg)
    common = {"latitude": place.latitude, "temperature": place.temperature,
              "pressure": place.station_pressure if form.air else 0 * u.hPa}
    if form.method == DRIFTS:
        return alignment_from_drift([_run(row) for row in form.rows], **common)
    first, second = (u.Quantity([float(row[place]) for row in form.rows], u.deg) for place in (-2, -1))
    if form.columns == SKY_COLUMNS:
        first, second = ground_directions(first, second, utc_times([str(row[0]) for row in form.rows]), place)
    return alignment_from_positions(first, second, **common)


def _run(row: tuple[float | str, ...]) -> DriftRun:
    hour_angle, declination, minutes, rate, error = (float(cell) for cell in row)
    speed = u.arcsec / u.min
    return DriftRun(hour_angle=hour_angle * u.deg, declination=declination * u.deg, duration=minutes * u.min,
                    dec_rate=rate * speed, dec_rate_error=error * speed)


def polar_tab(chosen: Chosen, *, seen: bool = True) -> None:
    """Show the polar alignment."""
    method = st.segmented_control("Measured by", [DRIFTS, POSITIONS], default=POSITIONS, key="polar_method",
                                  required=True)
    form, demo = _from_drifts(chosen) if method == DRIFTS else _from_positions(chosen, seen)
    screws = _options()
    if form is None:
        return
    found = tried(lambda: alignment_for(gear(chosen.key), form, chosen.site))
    if found is None:
        return
    with st.container(key="of_rows_polar"):
        _answer(chosen, found, screws, form.latitude_deg * u.deg, demo=demo, seen=seen)


def _answer(chosen: Chosen, found: PolarAlignment, screws: dict[str, Adjuster | None], latitude: u.Quantity[u.deg], *,
            demo: bool, seen: bool) -> None:
    st.header(axis_headline(found), anchor=False)
    elsewhere, turns = None if demo else latitude_doubt(latitude, chosen.site), screw_turns(found, screws)
    if elsewhere is not None:
        st.warning(plain(elsewhere.sentence))
    left, right = st.columns([3, 2])
    with left:
        draw(st, axis_chart(found), "polar_axis")
        st.caption("Beam: the error. Thin line: two standard errors. In azimuth it is an angle along the horizon.")
    with right:
        st.markdown("\n".join(f"- {line}" for line in axis_lines(found, turns)))
    save_figures(chosen, axis_figures(found), (), "polar", demo=demo, seen=seen,
                 doubtful=elsewhere is not None)
    columns = st.columns(3)
    columns[0].download_button("Result (JSON)", json_text(document(found, turns, Effect()), "polar"), "polar.json",
                               "application/json", key="download_polar")
    columns[1].download_button("Axis (CSV)", csv_text(axis_frame(found)), "axis.csv", "text/csv",
                               key="download_axis")


def _from_drifts(chosen: Chosen) -> tuple[PolarForm | None, bool]:
    """Show the table of drifts; return what it says, and whether it still holds a row of the demo."""
    st.caption("Let a star drift without guiding and note how fast it goes north: one star near the meridian, one near "
               "the east or west horizon. Hour angles count west of the meridian. The rows below are the demo's; "
               "overwrite them.")
    rows = tried(lambda: ask_for_rows(
        [[f"{cell:g}" for cell in row] for row in DEMO_RUNS], RUN_COLUMNS, "polar_runs",
        alt="Drifts measured: one row per star."))
    if rows is None:
        return None, True
    demo = not set(DEMO_RUNS).isdisjoint(rows)
    whose.about("polar_runs", demo, "the demo's measurement, not yours" if demo else "your drifts")
    return _form(DRIFTS, rows, tuple(RUN_COLUMNS), chosen.site, {}), demo


def _from_positions(chosen: Chosen, seen: bool) -> tuple[PolarForm | None, bool]:
    """Show the table of solved positions; return what it says, and whether it is the demo's."""
    file, demo = log_or_demo("Solved positions", "polar_file", "polar_demo.csv", seen=seen, columns=(
        "time_utc, ra_deg, dec_deg (ICRS), or hour_angle_deg, declination_deg (true places of date); # latitude_deg "
        "and # longitude_deg may stand at the top"))
    st.caption(("The demo: six frames of an invented mount. " if demo else "") +
               "Solve three or more frames between which only the RA axis turned, 20° or more each time. "
               "Rows can be corrected, added and taken out.")
    solved = tried(lambda: _positions_for(digest(file), file))
    if solved is None:
        return None, demo
    columns, texts = _position_texts(solved)
    rows = tried(lambda: ask_for_rows(
        texts, {name: POSITION_RULES[name] for name in columns}, f"polar_positions_{digest(file)}",
        alt="Solved positions: one row per frame."))
    return (None if rows is None else _form(POSITIONS, rows, columns, chosen.site, solved.header)), demo


@st.cache_data(max_entries=20, show_spinner=False)
def _positions_for(key: str, _file: InMemory) -> SolvedPositions:
    return read_positions(_file)


def _position_texts(solved: SolvedPositions) -> tuple[tuple[str, ...], list[list[str]]]:
    """Return the columns of solved positions, and their rows as a table shows them."""
    on_sky = solved.ra is not None and solved.dec is not None
    pair = (solved.ra, solved.dec) if on_sky else (solved.hour_angle, solved.declination)
    angles = [[f"{angle:.5f}" for angle in given(one).to_value(u.deg)] for one in pair]
    columns = [list(solved.time_utc), *angles] if on_sky else angles
    return (SKY_COLUMNS if on_sky else GROUND_COLUMNS), [list(row) for row in zip(*columns, strict=True)]


def _form(method: str, rows: list[tuple[float | str, ...]], columns: tuple[str, ...], site: Site,
          header: dict[str, float]) -> PolarForm:
    """Return the rows of a table with the place they were taken from."""
    return PolarForm(
        method=method, rows=tuple(rows), columns=columns, air=st.session_state.get("polar_air", True),
        latitude_deg=header.get("latitude_deg", float(site.latitude.to_value(u.deg))),
        longitude_deg=header.get("longitude_deg", float(site.longitude.to_value(u.deg))))


def _options() -> dict[str, Adjuster | None]:
    with st.expander("Refraction, adjusting screws"):
        screws = st.columns(4)
        st.toggle("Apply refraction to the positions", True, key="polar_air")
        sizes = [number(f"polar_screw_{place}", label, None, SCREW, place=column, placeholder="unknown")
                 for place, (column, label) in enumerate(zip(screws, (
                     "Altitude screw: pitch (mm)", "Altitude: lever arm (mm)", "Azimuth screw: pitch (mm)",
                     "Azimuth: lever arm (mm)"), strict=True))]
    return {"altitude": _adjuster(*sizes[:2]), "azimuth": _adjuster(*sizes[2:])}


def _adjuster(pitch_mm: float | None, lever_mm: float | None) -> Adjuster | None:
    if pitch_mm is None or lever_mm is None:
        return None
    return Adjuster(thread_pitch=pitch_mm * u.mm, lever_arm=lever_mm * u.mm)
