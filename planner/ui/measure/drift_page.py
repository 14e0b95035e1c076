"""What an unguided star tells of the mount: drift, periodic error, wander, jitter; and where the polar axis points."""

from dataclasses import dataclass, replace

import streamlit as st
from astropy import units as u

from planner.charts.measure import drift_chart, drift_frame, left_chart, spectrum_chart, spectrum_frame
from planner.charts.theme import DEC_HUE, RA_HUE
from planner.checks import Rule
from planner.fields import document
from planner.files.csv_text import csv_text
from planner.files.equipment.changed_advice import Effect
from planner.files.json_text import json_text
from planner.files.logs import read_drift_log
from planner.files.reading import InMemory
from planner.measure.drift.answer import DriftAnswer, drift_answer
from planner.measure.drift.model import DriftReport
from planner.measure.drift.spectrum import DriftSpectrum, drift_spectrum
from planner.measure.drift.text import drift_headline, drift_lines, noise_rows, polar_lines, term_rows
from planner.ui.choices import Choice, Chosen, choose
from planner.ui.drawing import draw
from planner.ui.measure.polar_tab import polar_tab
from planner.ui.measure.saving import saving, tried
from planner.ui.measure.uploads import digest, gear, log_or_demo
from planner.ui.settings import number

NOISE = Rule(at_least=0, at_most=10, remedy="Give arcseconds, e.g. 0.2.")
EXPOSURE = Rule(at_least=0.01, at_most=600, remedy="Give seconds, e.g. 2.")
WORM = Rule(at_least=10, at_most=5000, remedy="Give seconds, e.g. 480.")
AXES = {"RA": (RA_HUE, "RA, east +"), "Dec": (DEC_HUE, "Dec, north +")}


@dataclass(frozen=True)
class DriftForm:
    """The values of this page's own widgets; None: as the file says."""

    file: str  # digest
    declination_deg: float | None
    hour_angle_deg: float | None
    latitude_deg: float | None
    noise_arcsec: float | None  # None: what the air does
    exposure_s: float | None  # None: as the file says, else the step of the log
    keep_axis: bool
    worm_s: float | None  # None: as the mount's table says


@st.cache_data(max_entries=50, show_spinner="Analysing the log")
def drift_for(key: Choice, form: DriftForm, _file: InMemory, _chosen: Chosen
              ) -> tuple[DriftAnswer, tuple[DriftSpectrum, DriftSpectrum]]:
    """Return what the log says and its spectra; the cache is keyed on the file's digest and on what was chosen."""
    log = read_drift_log(_file)
    given = {"declination": form.declination_deg, "hour_angle": form.hour_angle_deg, "latitude": form.latitude_deg}
    log = replace(log, **{name: value * u.deg for name, value in given.items() if value is not None})
    if form.exposure_s is not None:
        log = replace(log, exposure=form.exposure_s * u.s)
    answer = drift_answer(log, _chosen.rig, _chosen.site, keep_axis=form.keep_axis,
                          worm_period=None if form.worm_s is None else form.worm_s * u.s,
                          centroid_noise=None if form.noise_arcsec is None else form.noise_arcsec * u.arcsec)
    report = answer.report
    return answer, (drift_spectrum(report, report.ra), drift_spectrum(report, report.dec))


def page() -> None:
    """Show the page."""
    chosen = choose()
    log, axis = st.tabs(["Drift log", "Polar alignment"], key="drift_tab", on_change="rerun")
    with log:
        _drift_tab(chosen, seen=log.open is not False)
    with axis:
        polar_tab(chosen, seen=axis.open is not False)


def _drift_tab(chosen: Chosen, *, seen: bool) -> None:
    file, demo = log_or_demo("Drift log of an unguided star", "drift_file", "drift_demo.csv", seen=seen, columns=(
        "time_s or time_utc, ra_arcsec (east positive), dec_arcsec (north positive), both true on the sky; "
        "# dec_deg: 12, # hour_angle_deg: -14 and # latitude_deg: 47.4 may stand at the top"))
    if demo:
        st.caption("This is the demo: 50 minutes of an invented star on a worm drive, with a cloud and three gusts.")
    form = _form(file)
    found = tried(lambda: drift_for(gear(chosen.key), form, file, chosen))
    if found is None:
        return
    answer, spectra = found
    report = answer.report
    st.header(drift_headline(report), anchor=False)
    st.caption(f"{report.used} of {report.rows} rows, {report.duration.to_value(u.min):.0f} minutes, one every "
               f"{report.step.to_value(u.s):.3g} s. {' '.join(report.notes)}")
    for doubt in answer.doubts:
        if not (demo and doubt.kind == "latitude"):  # nobody takes the demo for a log of theirs
            st.warning(doubt.sentence)
    _pictures(report, spectra)
    _figures(answer)
    _save(chosen, form, answer, demo, seen)
    _downloads(answer, spectra)


def _form(file: InMemory) -> DriftForm:
    with st.expander("Where the star stood, how well a row places it"):
        top, below = st.columns(3), st.columns(4)
        values = [number(f"drift_{name}", label, None, Rule(at_least=-limit, at_most=limit, remedy="Give degrees."),
                         place=column, placeholder="as the file says")
                  for column, (name, label, limit) in zip(top, (
                      ("dec", "Declination (°)", 90), ("hour_angle", "Hour angle at the first row (°)", 360),
                      ("latitude", "Latitude (°)", 90)), strict=True)]
        noise = number("drift_noise", "Centroid error per sample (″ rms)", None, NOISE, place=below[0],
                       placeholder="what the air does", help="Per axis: air and star's noise. It is taken off the "
                       "jitter.")
        exposure = number("drift_exposure", "Exposure of a row (s)", None, EXPOSURE, place=below[1],
                          placeholder="as the file says, else its step",
                          help="The longer, the less the air moves the star.")
        worm = number("drift_worm", "Period of the worm (s)", None, WORM, place=below[2],
                      placeholder="as the table says", help="A sidereal day, 86164 s, over the teeth of its wheel; the "
                      "terms of the table then stand at it.")
        keep = below[3].toggle("The polar axis is known: keep it", False, key="drift_keep_axis",
                               help="The drift in declination that it leaves then counts as flexure.")
    return DriftForm(file=digest(file), declination_deg=values[0], hour_angle_deg=values[1], latitude_deg=values[2],
                     noise_arcsec=noise, exposure_s=exposure, keep_axis=keep, worm_s=worm)


def _pictures(report: DriftReport, spectra: tuple[DriftSpectrum, DriftSpectrum]) -> None:
    """Show the log, its fit and its spectra, one axis beside the other."""
    shown = zip(st.columns(2), AXES.items(), (report.ra, report.dec), spectra, strict=True)
    for column, (name, (colour, title)), axis, spectrum in shown:
        with column:
            draw(st, drift_chart(axis, title, colour), f"drift_{name}_chart")
            draw(st, left_chart(axis, name), f"drift_{name}_left")
            draw(st, spectrum_chart(spectrum, axis), f"drift_{name}_spectrum")
    st.caption("Dots: the star, row by row. Line: fitted drift and periodic terms. Evidence is the gain in "
               "log-likelihood; above the dashed line noise alone would come in one log of a thousand. Bands mark "
               "terms that were accepted, each with the others fitted beside it.")


def _figures(answer: DriftAnswer) -> None:
    report = answer.report
    left, right = st.columns(2)
    with left:
        st.subheader("Drift and noise", anchor=False)
        st.table(noise_rows(report))
        air = "" if answer.noise is None else f" ({answer.noise.to_value(u.arcsec):.2f}″ here)"
        st.caption(f"The scatter of a row holds what the air does{air}: the jitter saved does not. Wander is how far "
                   "the star strays in a minute beyond drift and terms.")
        for line in drift_lines(report):
            st.caption(line)
    with right:
        st.subheader("Periodic terms", anchor=False)
        rows = term_rows(report)
        if rows:
            st.table(rows)
        else:
            st.info("No periodic term stands out of the noise.")
    st.subheader("What would explain the drift in declination", anchor=False)
    if answer.polar is None and not answer.report.log.placed:
        st.info("The file does not say where the star stood: give declination and hour angle above, and the polar "
                "error that explains the drift follows.")
    elif answer.polar is None:
        st.info("What Dec tells is left out, as the warning above says.")
    else:
        lines = polar_lines(answer.polar, of_mount=answer.measured is not None)
        st.markdown("\n".join(f"- {line}" for line in lines))


def _save(chosen: Chosen, form: DriftForm, answer: DriftAnswer, demo: bool, seen: bool) -> None:
    if answer.measured is None:
        st.info("Give the declination of the star above, and the log becomes a table of the mount.")
        return
    measured = answer.measured
    saving(chosen, measured.values, [{"key": f"{one.key}: {one.state}", "before": one.before, "after": one.after}
                                     for one in measured.figures],
           answer.remarks, "drift", demo=demo, seen=seen, doubtful=bool(answer.blocked), mount=measured.mount,
           log=answer.fingerprint)


def _downloads(answer: DriftAnswer, spectra: tuple[DriftSpectrum, DriftSpectrum]) -> None:
    columns, report = st.columns(3), answer.report
    columns[0].download_button("Result (JSON)", json_text(document(answer, Effect()), "drift"), "drift.json",
                               "application/json", key="download_drift")
    for column, (name, axis, spectrum) in zip(columns[1:], (
            ("RA", report.ra, spectra[0]), ("Dec", report.dec, spectra[1])), strict=True):
        column.download_button(f"Log and fit, {name} (CSV)", csv_text(drift_frame(axis)),
                               f"drift_{name.lower()}.csv", "text/csv", key=f"download_drift_{name}")
        column.download_button(f"Spectrum, {name} (CSV)", csv_text(spectrum_frame(spectrum)),
                               f"spectrum_{name.lower()}.csv", "text/csv", key=f"download_spectrum_{name}")
