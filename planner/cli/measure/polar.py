"""`planner polar`: where the polar axis points, which screw to turn, and whether it matters."""

import dataclasses
from pathlib import Path
from typing import Annotated, Any

import typer
from astropy import units as u

from planner.checks import given
from planner.cli.measure import measured as common
from planner.cli.options import EquipmentOption, JsonOption, NightOption, RigOption, SiteOption, new_app, open_equipment
from planner.cli.output import print_json, print_lines
from planner.errors import InvalidInputError
from planner.fields import document
from planner.rig import Site

app = new_app()
EXAMPLE = 'Write it like --run "-10, 5, 8, 1.2": hour angle and declination in degrees, minutes, arcsec per minute.'
UNSURE = 0.05  # arcsec/min: error of a rate read off by hand (common practice, no source)


@app.command()
def polar(
    files: Annotated[list[Path] | None, typer.Argument(
        metavar="[FILE]...", help="CSV of solved positions, only the RA axis turned in between: time_utc, ra_deg, "
        "dec_deg (ICRS), or hour_angle_deg, declination_deg. Or solved FITS frames, or their folder.")] = None,
    drift: Annotated[list[Path] | None, typer.Option(
        "--drift", metavar="LOG", help="Drift log with dec_deg and hour_angle_deg at its top; two or more.")] = None,
    run: Annotated[list[str] | None, typer.Option(
        "--run", metavar="H,DEC,MIN,RATE", help="A drift by hand: hour angle, declination (deg), minutes, Dec drift "
        "(arcsec/min, north +); two or more.")] = None,
    altitude_screw: Annotated[str | None, typer.Option(
        "--altitude-screw", metavar="PITCH,LEVER", help='Thread pitch and lever arm, "1.5 mm, 180 mm".')] = None,
    azimuth_screw: Annotated[str | None, typer.Option(
        "--azimuth-screw", metavar="PITCH,LEVER", help='Thread pitch and lever arm, "1.5 mm, 120 mm".')] = None,
    position_error: Annotated[str | None, typer.Option(
        "--position-error", metavar="SIZE", help='Of one solved position, "2 arcsec"; else from the scatter.')] = None,
    refraction: Annotated[bool, typer.Option(
        "--refraction/--no-refraction", help="Whether to apply the refraction at the site to the positions.")] = True,
    latitude: common.LatitudeOption = None, judged: common.TargetOption = None, night: NightOption = None,
    save: common.SaveOption = False, anyway: common.AnywayOption = False, equipment: EquipmentOption = None,
    rig: RigOption = None, site: SiteOption = None, json: JsonOption = False,
) -> None:
    """How far the polar axis is off, from solved positions or from two drifts, and what to turn."""
    from planner.files.equipment.changed_advice import Effect
    from planner.measure.pointing.mount import as_written, axis_figures, table_texts, with_figures
    from planner.measure.polar.remedy import screw_turns

    runs = list(run or [])
    if sum(map(bool, (files, drift or runs))) != 1:
        raise InvalidInputError("planner polar", "nothing to measure from" if not files else "a file and drifts",
                                "needs a file of solved positions, or two drifts",
                                "Give FILE, or --drift LOG twice, or --run twice.")
    spread = common.measure("--position-error", position_error, "arcsec", '"2 arcsec"')
    screws = {"altitude": _screw("--altitude-screw", altitude_screw),
              "azimuth": _screw("--azimuth-screw", azimuth_screw)}
    option = common.degrees("--latitude", latitude, 90)
    owned = open_equipment(equipment)
    place = owned.site(site)
    pressure = place.station_pressure if refraction else 0 * u.hPa
    if files:
        found = _from_positions(files, option, place, pressure, spread)
    else:
        found = _from_drifts(drift or [], runs, option, place, pressure)
    common.note_doubts(common.log_name(files) if files else "drifts", found.latitude, common.stated_site(owned, site),
                       refuse=save and not anyway)
    turns = screw_turns(found, screws)
    mount = owned.rig(rig).mount
    own = save or common.own_mount(owned, rig) is not None
    figures = axis_figures(found)
    texts = as_written(figures)
    change = common.advice_effect(owned, (rig, site), with_figures(mount, figures), target=judged, night=night)
    saved = common.save_mount(equipment, mount, texts) if save else None
    if json:
        print_json(document(found, turns, Effect(saved=saved, advice=change)))
        return
    _show(found, turns, change)
    if own:
        changes = [(key, before, texts[key]) for key, before in table_texts(mount, texts).items()]
        common.show_changes(changes, saved, mount, change)


def _screw(name: str, text: str | None) -> Any:
    """Return the adjuster written as thread pitch and lever arm."""
    from planner.measure.polar.remedy import Adjuster

    if text is None:
        return None
    parts = text.split(",")
    if len(parts) != 2:
        raise InvalidInputError(name, text, "must be a thread pitch and a lever arm", 'Write it like "1.5 mm, 180 mm".')
    pitch, lever = (given(common.measure(name, part, "mm", '"1.5 mm, 180 mm"')) for part in parts)
    return Adjuster(thread_pitch=pitch, lever_arm=lever)


def _from_positions(
    files: list[Path], option: u.Quantity | None, place: Site, pressure: u.Quantity, spread: u.Quantity | None
) -> Any:
    """Return the alignment from a file of solved positions, or from solved frames."""
    from planner.files.logs import places_of, read_positions
    from planner.measure.polar.alignment import alignment_from_positions, ground_directions, utc_times

    air: dict[str, Any] = {"pressure": pressure, "temperature": place.temperature, "position_error": spread}
    frames = common.solved_frames(files)
    if frames is not None:
        place = dataclasses.replace(place, latitude=common.the_latitude(option, None, place))
        _, *places = places_of(frames, place)
        return alignment_from_positions(*places, latitude=place.latitude, **air)
    solved = read_positions(files[0])
    stated = solved.header.get("latitude_deg")
    where = common.the_latitude(option, None if stated is None else stated * u.deg, place)
    hour_angle, declination = solved.hour_angle, solved.declination
    if solved.ra is not None and solved.dec is not None:
        longitude = solved.header.get("longitude_deg")
        place = dataclasses.replace(place, latitude=where,
                        longitude=place.longitude if longitude is None else longitude * u.deg)
        hour_angle, declination = ground_directions(solved.ra, solved.dec, utc_times(solved.time_utc), place)
    return alignment_from_positions(given(hour_angle), given(declination), latitude=where, **air)


def _from_drifts(
    logs: list[Path], runs: list[str], option: u.Quantity | None, place: Site, pressure: u.Quantity
) -> Any:
    """Return the alignment from drift logs and drifts written by hand."""
    from planner.measure.polar.drift import alignment_from_drift

    measured = [_logged(path) for path in logs] + [_by_hand(text) for text in runs]
    stated = next((latitude for _, latitude in measured if latitude is not None), None)
    where = common.the_latitude(option, stated, place)
    return alignment_from_drift([run for run, _ in measured], latitude=where, pressure=pressure,
                                temperature=place.temperature)


def _logged(path: Path) -> Any:
    """Return the drift run and the latitude of a log."""
    from planner.files.logs import read_drift_log
    from planner.measure.drift.report import analyse_drift
    from planner.measure.polar.drift import DriftRun

    log = read_drift_log(path)
    if log.declination is None or log.hour_angle is None:
        raise InvalidInputError(f"drift log {path.name}", "no dec_deg or hour_angle_deg", "must say where the star was",
                                "Write # dec_deg: 5 and # hour_angle_deg: -10 at its top.")
    report = analyse_drift(log)
    run = DriftRun(hour_angle=log.hour_angle, declination=log.declination, duration=report.duration,
                   dec_rate=report.dec.rate, dec_rate_error=report.dec.rate_error)
    return run, log.latitude


def _by_hand(text: str) -> Any:
    """Return the drift run written in an option."""
    from planner.measure.polar.drift import DriftRun

    try:
        hour_angle, declination, minutes, rate = (float(part) for part in text.split(","))
    except ValueError:
        raise InvalidInputError("--run", text, "must be four numbers", EXAMPLE) from None
    if not (abs(hour_angle) <= 180 and abs(declination) <= 89 and 0 < minutes <= 720 and abs(rate) < 1000):
        raise InvalidInputError("--run", text, "has a number out of range", EXAMPLE)
    speed = u.arcsec / u.min
    return DriftRun(hour_angle=hour_angle * u.deg, declination=declination * u.deg, duration=minutes * u.min,
                    dec_rate=rate * speed, dec_rate_error=UNSURE * speed), None


def _show(found: Any, turns: Any, change: Any) -> None:
    """Print the axis, the remedy and how long subs can then be, in words."""
    from planner.measure.polar.text import axis_lines

    print_lines(*axis_lines(found, turns))
    after = change.short_after
    ways = () if after is None else (("unguided", after.unguided_longest), ("guided", after.guided_longest))
    lengths = [f"{way} {longest.to_value(u.s):.0f} s" for way, longest in ways if longest is not None]
    if lengths:
        print_lines(f"With this axis the longest subs for {change.target} are {', '.join(lengths)} (rig "
                    f'"{change.rig}").')
