"""`planner drift`: what the log of an unguided star says about the mount."""

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
    from planner.measure.drift.causes import implied_polar_error, measured_mount
    from planner.measure.drift.document import drift_document
    from planner.measure.drift.report import analyse_drift

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
    _show(file.name, document, report, polar)
    if measured is not None and mount is not None:
        print(*remarks, sep="\n", end="\n" if remarks else "")
        show_changes([(change.key, change.before, change.after) for change in measured.changes], saved, mount, effect)


def _noise_of_air(
    owned: Equipment, rig: str | None, site: str | None, exposure: u.Quantity
) -> tuple[u.Quantity, list[str]]:
    """Return what the air adds to the scatter of the rows, and a sentence that says so."""
    from planner.measure.drift.centroid_noise import centroid_noise_of_air

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


def _show(name: str, document: dict[str, Any], report: Any, polar: Any) -> None:
    """Print the report in words and tables."""
    from planner.measure.drift.text import bend_lines, noise_rows, polar_lines, term_rows

    minutes = document["duration_s"] / 60
    print(f"{name}: {document['used_rows']} of {document['rows']} rows used, {minutes:.1f} min, "
          f"a row every {document['step_s']:.3g} s.")
    print(*document["notes"], sep="\n", end="\n" if document["notes"] else "")
    _table("Drift and noise", noise_rows(report))
    bends = bend_lines(report)
    print(*bends, sep="\n", end="\n" if bends else "")
    terms = term_rows(report)
    if terms:
        _table("Periodic terms", terms)
    for axis in ("RA", "Dec"):
        if all(row["axis"] != axis for row in terms):
            print(f"No periodic term in {axis} stands out of the noise.")
    if polar is not None:
        print(*polar_lines(polar), sep="\n")


def _table(title: str, rows: list[dict[str, str]]) -> None:
    """Print rows that name their columns, numbers to the right."""
    columns = tuple(rows[0])
    print_table(title, columns, [tuple(row.values()) for row in rows], right=columns[1:])
