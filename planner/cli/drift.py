"""`planner drift`: what the log of an unguided star says about the mount."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Annotated, Any

import typer
from astropy import units as u

from planner.cli.measured import (
    LatitudeOption,
    SaveOption,
    TargetOption,
    advice_effect,
    degrees,
    measure,
    own_mount,
    save_mount,
    show_changes,
)
from planner.cli.options import EquipmentOption, JsonOption, NightOption, RigOption, SiteOption, new_app, open_equipment
from planner.cli.output import print_json, print_table
from planner.files.logs import read_drift_log
from planner.rig import Equipment

app = new_app()


@app.command()
def drift(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="CSV with time_s, ra_arcsec, dec_arcsec.")],
    dec: Annotated[float | None, typer.Option("--dec", metavar="DEG", help="Declination of the star.")] = None,
    hour_angle: Annotated[float | None, typer.Option(
        "--hour-angle", metavar="DEG", help="Hour angle at the first row, west positive.")] = None,
    latitude: LatitudeOption = None,
    centroid_noise: Annotated[str | None, typer.Option(
        "--centroid-noise", metavar="SIZE", help='How well a row places the star, air included, "0.3 arcsec"; if not '
        "given, what the air of the site does in the telescope of the rig.")] = None,
    exposure: Annotated[str | None, typer.Option(
        "--exposure", metavar="TIME", help="Of one row; as the log says if not given, else its step.")] = None,
    keep_axis: Annotated[bool, typer.Option(
        "--keep-axis", help="The polar axis in the file was measured by itself: keep it, and count the drift in Dec "
        "that it leaves as flexure.")] = False,
    target: TargetOption = None,
    night: NightOption = None,
    save: SaveOption = False,
    equipment: EquipmentOption = None,
    rig: RigOption = None,
    site: SiteOption = None,
    json: JsonOption = False,
) -> None:
    """Rates, periodic terms, wander and jitter from the log of an unguided star.

    Comments at the top of the file may give dec_deg, hour_angle_deg and latitude_deg; with them the polar axis and
    the drive rate that explain the drift follow, and --save writes the mount.

    For advice that holds: log for an hour, a row every second or two, a star within 30 deg of the equator; measure
    the polar axis first with "planner polar --save" and then add --keep-axis.
    """
    from planner.measure.drift_causes import implied_polar_error, measured_mount
    from planner.measure.drift_document import drift_document
    from planner.measure.drift_log import analyse_drift

    log = read_drift_log(file)
    options = {"declination": degrees("--dec", dec, 90), "hour_angle": degrees("--hour-angle", hour_angle, 360),
               "latitude": degrees("--latitude", latitude, 90)}
    noise = measure("--centroid-noise", centroid_noise, "arcsec", '"0.3 arcsec"')
    length = measure("--exposure", exposure, "s", '"0.5 s"')
    owned = open_equipment(equipment)
    log = replace(log, **{key: value for key, value in options.items() if value is not None})
    log, air = _with_site(log, owned, site)
    report = analyse_drift(log, **air)
    mount = owned.rig(rig).mount if save else own_mount(owned, rig)
    polar = implied_polar_error(report, mount, **air)
    measured = saved = effect = None
    remarks: list[str] = []
    if mount is not None and (save or log.declination is not None):
        if noise is None:
            said = report.step if log.exposure is None else log.exposure
            noise, remarks = _noise_of_air(owned, rig, site, said if length is None else length)
        measured = measured_mount(mount, report, centroid_noise=noise, keep_axis=keep_axis, **air)
        effect = advice_effect(owned, (rig, site), measured.mount, target=target, night=night)
        remarks += measured.notes
        if save:
            keys = [change.key for change in measured.changes]
            saved = save_mount(equipment, mount, {key: getattr(measured.mount, key) for key in keys})
    document = drift_document(report, polar, measured, saved) | {"mount_notes": remarks, "advice": effect}
    if json:
        print_json(document)
        return
    _show(file.name, document, report)
    if measured is not None and mount is not None:
        print(*remarks, sep="\n", end="\n" if remarks else "")
        show_changes([(change.key, change.before, change.after) for change in measured.changes], saved, mount, effect)


def _noise_of_air(
    owned: Equipment, rig: str | None, site: str | None, exposure: u.Quantity
) -> tuple[u.Quantity, list[str]]:
    """Return what the air adds to the scatter of the rows, and a sentence that says so."""
    from planner.measure.centroid_noise import centroid_noise_of_air

    telescope, place = owned.rig(rig).telescope, owned.site(site)
    noise = centroid_noise_of_air(telescope, place, exposure=exposure)
    return noise, [
        f"{noise.value:.2f}″ of the jitter is put down to the air ({place.seeing.value:g}″ seeing, "
        f"{telescope.aperture.to_value(u.mm):g} mm, exposures of {exposure.to_value(u.s):.3g} s); what measuring the "
        "star adds still counts as jitter. --centroid-noise says better."]


def _with_site(log: Any, owned: Equipment, site: str | None) -> tuple[Any, dict[str, u.Quantity]]:
    """Return the log with the latitude, and the air, of a site that is the user's own or was named."""
    if owned.is_demo and site is None:
        return log, {}
    place = owned.site(site)
    air = {"pressure": place.station_pressure, "temperature": place.temperature}
    return (log if log.latitude is not None else replace(log, latitude=place.latitude)), air


def _show(name: str, document: dict[str, Any], report: Any) -> None:
    """Print the report in words and tables."""
    from planner.measure.drift_text import bend_lines

    minutes = document["duration_s"] / 60
    print(f"{name}: {document['used_rows']} of {document['rows']} rows used, {minutes:.1f} min, "
          f"a row every {document['step_s']:.3g} s.")
    print(*document["notes"], sep="\n", end="\n" if document["notes"] else "")
    rows = [(label, f"{document[f'{axis}_rate_arcsec_per_min']:+.3f} ± "
             f"{document[f'{axis}_rate_arcsec_per_min_error']:.3f}", f"{document[f'{axis}_jitter_rms_arcsec']:.2f}",
             f"{document[f'{axis}_wander_arcsec_per_root_min']:.2f} ± "
             f"{document[f'{axis}_wander_error_arcsec_per_root_min']:.2f}")
            for label, axis in (("RA (east positive)", "ra"), ("Dec (north positive)", "dec"))]
    columns = ("axis", "drift (″/min)", "jitter (″ rms)", "wander (″/√min)")
    print_table("Drift and noise", columns, rows, right=columns[1:])
    bends = bend_lines(report)
    print(*bends, sep="\n", end="\n" if bends else "")
    _show_terms("RA", report.ra.periodic)
    _show_terms("Dec", report.dec.periodic)
    if document["polar"]:
        _show_polar(document["polar"])


def _show_terms(axis: str, terms: Sequence[Any]) -> None:
    from planner.measure.drift_text import chance_text, family_text

    if not terms:
        print(f"No periodic term in {axis} stands out of the noise.")
        return
    rows = [(f"{term.period.to_value(u.s):.1f} ± {term.period_error.to_value(u.s):.1f}",
             f"{2 * term.amplitude.to_value(u.arcsec):.2f}", f"{2 * term.amplitude_error.to_value(u.arcsec):.2f}",
             chance_text(term.false_alarm), family_text(term)) for term in terms]
    columns = ("period (s)", "peak to peak (″)", "±", "false alarm", "")
    print_table(f"Periodic terms in {axis}", columns, rows, right=columns[:4])


def _show_polar(polar: dict[str, Any]) -> None:
    """Say which polar axis the declination drift implies."""
    if polar["separable"]:
        print(f"Polar axis: {polar['altitude_error_arcmin']:+.1f}′ ± {polar['altitude_uncertainty_arcmin']:.1f}′ in "
              f"altitude (too high +), {polar['azimuth_error_arcmin']:+.1f}′ ± "
              f"{polar['azimuth_uncertainty_arcmin']:.1f}′ in azimuth (east +).")
        return
    print(f"Polar axis: at least {polar['least_arcmin']:.1f}′ off the pole; this log cannot say in which direction.")
    print(f"  If its altitude is right: {polar['azimuth_alone_arcmin']:+.1f}′ ± "
          f"{polar['azimuth_alone_uncertainty_arcmin']:.1f}′ in azimuth (east +).")
    print(f"  If its azimuth is right: {polar['altitude_alone_arcmin']:+.1f}′ ± "
          f"{polar['altitude_alone_uncertainty_arcmin']:.1f}′ in altitude (too high +).")
