"""The pointing model: which angles of the mount are off, how well they are known, and what follows for tracking."""

from dataclasses import dataclass

import streamlit as st
from astropy import units as u

from planner.charts.measure import plan_chart, plan_frame, rates_chart, rates_frame
from planner.checks import Rule
from planner.fields import document
from planner.files.csv_text import csv_text
from planner.files.equipment.changed_advice import NotedEffect
from planner.files.json_text import json_text
from planner.files.logs import PointingFile, read_pointing
from planner.files.reading import InMemory
from planner.measure.pointing.drift import PathDrift, path_drift
from planner.measure.pointing.fit import fit_pointing
from planner.measure.pointing.mount import model_figures, model_remarks
from planner.measure.pointing.residual_plan import ResidualPlan, residual_plan
from planner.measure.pointing.results import PointingFit, set_aside
from planner.measure.pointing.text import axis_line, fit_lines, outlier_rows, pointing_headline, term_rows
from planner.signs import minus
from planner.tracking.pointing_model import TERM_NAMES, term_meanings
from planner.ui.choices import Chosen, choose
from planner.ui.drawing import draw
from planner.ui.measure.saving import save_figures, tried
from planner.ui.measure.uploads import digest, log_or_demo
from planner.ui.plain import plain
from planner.ui.settings import number

LATITUDE = Rule(at_least=-90, at_most=90, remedy="Give degrees, south negative.")
PATH_STEP = 5.0  # deg of hour angle between points of the drawn drift


@dataclass(frozen=True)
class PointingForm:
    """The values of this page's own widgets, and what they stand on."""

    file: str  # digest
    terms: tuple[str, ...]
    harmonics: bool
    latitude_deg: float | None  # None: of the file, or else of the site
    pressure_hpa: float  # 0: the places are as seen through the air
    temperature_deg_c: float


@st.cache_data(max_entries=50, show_spinner="Fitting the model")
def fit_for(form: PointingForm, _file: InMemory, _latitude: u.Quantity
            ) -> tuple[PointingFile, PointingFit, ResidualPlan]:
    """Return the sightings, the model and the residuals on the sky; the latitude is the site's, a last resort."""
    sightings = read_pointing(_file)
    latitude = _latitude if sightings.latitude is None else sightings.latitude
    data = sightings.data(latitude if form.latitude_deg is None else form.latitude_deg * u.deg)
    fit = fit_pointing(data, terms=form.terms, harmonics=form.harmonics, pressure=form.pressure_hpa * u.hPa,
                       temperature=form.temperature_deg_c * u.deg_C)
    return sightings, fit, residual_plan(data, fit)


@st.cache_data(max_entries=100, show_spinner=False)
def drift_for(form: PointingForm, site: str, declination_deg: float, _fit: PointingFit) -> PathDrift:
    """Return the drift that the model implies for a target, along its path."""
    return path_drift(_fit, declination_deg * u.deg, step=PATH_STEP)


def page() -> None:
    """Show the page."""
    chosen = choose()
    file, demo = log_or_demo("Pointing file", "pointing_file", "pointing_demo.csv", columns=(
        "hour_angle_deg, declination_deg (where the telescope looked), mount_hour_angle_deg, mount_declination_deg "
        "(what the mount displayed) and pier_side; # latitude_deg: 47.4 may stand at the top"))
    if demo:
        st.caption("This is the demo: 48 invented sightings on both sides of the pier, one of them wrong.")
    form = _form(file, chosen)
    if form is None:
        return
    found = tried(lambda: fit_for(form, file, chosen.site.latitude))
    if found is None:
        return
    sightings, fit, plan = found
    st.header(pointing_headline(fit), anchor=False)
    for doubt in fit.doubts:
        st.warning(doubt.sentence)
    _figures(fit, len(sightings.lines))
    _model(fit, plan, sightings)
    path = _drift(form, fit, chosen)
    figures = model_figures(fit)
    if figures:
        save_figures(chosen, figures, model_remarks(fit, chosen.rig.mount), "pointing", demo=demo,
                     doubtful=bool(fit.doubts))
    else:
        st.info("Fit polar_altitude and polar_azimuth, both, to save the polar axis to the mount.")
    _downloads(sightings, fit, plan, path)


def _form(file: InMemory, chosen: Chosen) -> PointingForm | None:
    with st.expander("Terms, harmonics, latitude and air"):
        terms = st.multiselect("Terms to fit", list(TERM_NAMES), default=list(TERM_NAMES), key="pointing_terms",
                               help="\n".join(f"- {name}: {meaning}" for name, meaning in
                                              term_meanings(chosen.site.latitude).items()))
        columns = st.columns(3)
        latitude = number("pointing_latitude", "Latitude (°)", None, LATITUDE, place=columns[0],
                          placeholder="the file's, or the site's")
        harmonics = columns[1].toggle("Try errors that repeat with the turn of an axis", True, key="pointing_harmonics")
        true = columns[2].toggle("True positions: apply refraction", False, key="pointing_air")
    if not terms:
        st.error("terms = none: must name at least one. Choose the terms to fit.")
        return None
    return PointingForm(
        file=digest(file), terms=tuple(name for name in TERM_NAMES if name in terms), harmonics=harmonics,
        latitude_deg=latitude,
        pressure_hpa=float(chosen.site.station_pressure.to_value(u.hPa)) if true else 0.0,
        temperature_deg_c=float(chosen.site.temperature.to_value(u.deg_C, u.temperature())))


def _figures(fit: PointingFit, count: int) -> None:
    figures = [
        ("Before", f"{fit.rms_before.to_value(u.arcsec):.0f}″", "rms per axis, on the sky"),
        ("After", f"{fit.rms_after.to_value(u.arcsec):.1f}″", "of the sightings that were fitted"),
        ("Held out", f"{fit.rms_held_out.to_value(u.arcsec):.1f}″", "each predicted from all others"),
        ("Set aside", f"{len(fit.outliers)} of {count}", "sightings that do not belong to the rest"),
    ]
    for column, (label, value, below) in zip(st.columns(len(figures)), figures, strict=True):
        column.metric(label, value)
        column.caption(below)


def _model(fit: PointingFit, plan: ResidualPlan, sightings: PointingFile) -> None:
    left, right = st.columns([2, 3])
    with left:
        st.subheader("The mount's angles", anchor=False)
        st.table(term_rows(fit))
        st.markdown("\n".join(f"- {line}" for line in [axis_line(fit), *fit_lines(fit)] if line))
    with right:
        st.subheader("What is left, on the sky", anchor=False)
        draw(st, plan_chart(plan), "pointing_plan")
        st.caption(f"The whole horizon unrolled. A stroke starts at the sighting; 1″ is drawn as {plan.stretch:g}°. "
                   "Crossed and dashed: set aside, the stroke cut short.")
        if fit.outliers.size:
            st.table(outlier_rows(fit, plan, [int(line) for line in sightings.lines]))


def _drift(form: PointingForm, fit: PointingFit, chosen: Chosen) -> PathDrift:
    st.subheader(plain(f"The drift it implies for {chosen.target.name}"), anchor=False)
    declination = float(chosen.target.dec.to_value(u.deg))
    shown = minus(f"{declination:+.1f}°")
    path = drift_for(form, chosen.site.name, declination, fit)
    draw(st, rates_chart(path), "pointing_drift")
    st.caption(f"At the sidereal rate without refraction, declination {shown}; the telescope west of the pier before "
               "the meridian, east after it.")
    return path


def _downloads(sightings: PointingFile, fit: PointingFit, plan: ResidualPlan, path: PathDrift) -> None:
    columns = st.columns(3)
    whole = document(fit, set_aside(fit, sightings.lines), path, NotedEffect())
    columns[0].download_button("Result (JSON)", json_text(whole, "pointing"), "pointing.json", "application/json",
                               key="download_pointing")
    columns[1].download_button("Residuals (CSV)", csv_text(plan_frame(plan)), "residuals.csv", "text/csv",
                               key="download_residuals")
    columns[2].download_button("Implied drift (CSV)", csv_text(rates_frame(path)), "implied_drift.csv",
                               "text/csv", key="download_implied_drift")
