"""`planner pointing`: the constant angles of a mount from where it pointed and where it said it did."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Annotated, Any

import numpy as np
import typer
from astropy import units as u

from planner.checks import Rule, check
from planner.cli.measure import measured as common
from planner.cli.options import EquipmentOption, JsonOption, NightOption, RigOption, SiteOption, new_app, open_equipment
from planner.cli.output import print_json, print_lines, print_table
from planner.errors import InvalidInputError
from planner.fields import document
from planner.files.logs import frames_pointing, read_pointing
from planner.measure.pointing.results import PointingData
from planner.rig import Site
from planner.rig.choices import PIER_SIDES
from planner.signs import minus

app = new_app()
NO_SAVE = "needs both angles of the polar axis"


@app.command()
def pointing(
    files: Annotated[list[Path], typer.Argument(
        metavar="FILE...", help="CSV with hour_angle_deg, declination_deg, mount_hour_angle_deg, "
        "mount_declination_deg, pier_side. Or solved FITS frames, or their folder, with RA and DEC as the mount "
        "displayed them; the air of the site then bends their places.")],
    pier_side: Annotated[str | None, typer.Option(
        "--pier-side", metavar="east|west", help="Where the telescope was, for frames; else west of the meridian "
        "east of the pier, as after a flip in time.")] = None,
    terms: Annotated[str | None, typer.Option(
        "--terms", metavar="NAMES", help="Terms to fit, separated by commas; all seven if not given.")] = None,
    harmonics: Annotated[bool, typer.Option(
        "--harmonics/--no-harmonics", help="Try errors that repeat with the turn of an axis.")] = True,
    refraction: Annotated[bool, typer.Option(
        "--refraction", help="The places are true ones; bend them by the air of the site first.")] = False,
    dec: Annotated[str | None, typer.Option(
        "--dec", metavar="ANGLE", help="Show the drift that the model implies at this declination, in deg.")] = None,
    latitude: common.LatitudeOption = None, judged: common.TargetOption = None, night: NightOption = None,
    save: common.SaveOption = False, anyway: common.AnywayOption = False, equipment: EquipmentOption = None,
    rig: RigOption = None, site: SiteOption = None, json: JsonOption = False,
) -> None:
    """Fit the pointing model: index errors, collimation, axes, polar axis and flexure, with their errors."""
    from planner.files.equipment.changed_advice import NotedEffect
    from planner.measure.pointing.drift import path_drift
    from planner.measure.pointing.fit import TERM_NAMES, fit_pointing
    from planner.measure.pointing.mount import as_written, model_figures, model_remarks, table_texts, with_figures
    from planner.measure.pointing.results import set_aside

    if pier_side is not None:
        check("--pier-side", pier_side, Rule(kind="choice", choices=PIER_SIDES))
    side = next((one for one in PIER_SIDES if one == pier_side), None)
    option, target = common.degrees("--latitude", latitude, 90), common.degrees("--dec", dec, 90)
    owned = open_equipment(equipment)
    place = owned.site(site)
    frames = common.solved_frames(files)
    data, lines = _from_table(files[0], option, place) if frames is None else (
        frames_pointing(frames, replace(place, latitude=common.the_latitude(option, None, place)), side),
        np.arange(len(frames)) + 1)
    names = TERM_NAMES if terms is None else tuple(name.strip() for name in terms.split(",") if name.strip())
    pressure = place.station_pressure if refraction or frames is not None else 0 * u.hPa
    fit = fit_pointing(data, terms=names, harmonics=harmonics, pressure=pressure,
                       temperature=place.temperature)
    common.note_doubts(common.log_name(files), data.latitude, common.stated_site(owned, site), fit.doubts,
                       refuse=save and not anyway)
    aside, paths = set_aside(fit, lines), [] if target is None else [path_drift(fit, target)]
    saved, change, mount = None, None, owned.rig(rig).mount if save else common.own_mount(owned, rig)
    figures, remarks = model_figures(fit), []
    texts = as_written(figures)
    if save and not figures:
        raise InvalidInputError("--save", "true", NO_SAVE, "Fit polar_altitude and polar_azimuth too.")
    if mount is not None and figures:
        remarks = model_remarks(fit, mount)
        change = common.advice_effect(owned, (rig, site), with_figures(mount, figures), target=judged, night=night)
        saved = common.save_mount(equipment, mount, texts) if save else None
    if json:
        effect = NotedEffect(saved=saved, advice=change, mount_notes=tuple(remarks))
        print_json(document(fit, aside, *paths, effect))
        return
    _show(common.log_name(files), fit, aside, [rate for path in paths for rate in path.drift])
    if change is not None and mount is not None:
        print_lines(*remarks)
        changes = [(key, before, texts[key]) for key, before in table_texts(mount, texts).items()]
        common.show_changes(changes, saved, mount, change)


def _from_table(file: Path, option: u.Quantity | None, place: Site) -> tuple[PointingData, np.ndarray]:
    """Return the sightings of a table and the lines on which they stand."""
    sightings = read_pointing(file)
    return sightings.data(common.the_latitude(option, sightings.latitude, place)), sightings.lines


def _show(name: str, fit: Any, aside: Any, rates: Sequence[Any]) -> None:
    from planner.measure.pointing.text import axis_line, fit_lines, term_rows

    print_lines(
        f"{name}: {aside.sightings} sightings, {len(aside.outliers)} far off, set aside. Per axis, on the sky: "
        f"{fit.rms_before.to_value(u.arcsec):.1f}″ rms before, {fit.rms_after.to_value(u.arcsec):.2f}″ after, "
        f"{fit.rms_held_out.to_value(u.arcsec):.2f}″ for sightings that were held out.",
        *filter(None, [axis_line(fit)]))
    rows = [tuple(row.values()) for row in term_rows(fit)]
    print_table("Terms", ("term", "value (″)", "meaning"), rows, right=("value (″)",))
    print_lines(*fit_lines(fit), *(
        minus(f"Outlier: row {row.row} (line {row.line}), {row.east.to_value(u.arcsec):+.0f}″ east, "
              f"{row.north.to_value(u.arcsec):+.0f}″ north.") for row in aside.outliers))
    if rates:
        _show_drift(rates)


def _show_drift(rows: Sequence[Any]) -> None:
    columns = ("hour angle (deg)", "telescope", "RA (″/h)", "Dec (″/h)")
    cells = [(minus(f"{row.hour_angle.value:+.0f}"), f"{row.pier_side} of the pier", minus(f"{row.ra.value:+.1f}"),
              minus(f"{row.dec.value:+.1f}")) for row in rows]
    print_table("Drift that the model implies at the sidereal rate, without refraction", columns, cells,
                right=(columns[0], *columns[2:]))
