"""`planner drift`: what the log of an unguided star says about the mount."""

from dataclasses import replace
from pathlib import Path
from typing import Annotated, Any

import typer
from astropy import units as u

from planner.checks import Rule, check
from planner.cli.measure import measured as common
from planner.cli.options import EquipmentOption, JsonOption, NightOption, RigOption, SiteOption, new_app, open_equipment
from planner.cli.output import print_json, print_lines, print_table
from planner.constants import SIDEREAL_DAY
from planner.errors import InvalidInputError
from planner.fields import document
from planner.files.logs import frames_drift, read_drift_log

app = new_app()
NO_PLACE = ("dec_deg", "(missing)", "is needed to turn the log into the mount's errors",
            "Write # dec_deg: 12.3 at the top of the log, or give --dec.")


@app.command()
def drift(
    files: Annotated[list[Path], typer.Argument(
        metavar="FILE...", help="CSV with time_s or time_utc and ra_arcsec, dec_arcsec; ra_deg, dec_deg of solved "
        "frames; or x_pixels, y_pixels with # image_scale_arcsec at the top. Or solved FITS frames of one field, or "
        "their folder.")],
    dec: Annotated[str | None, typer.Option("--dec", metavar="ANGLE", help="Of the star, in deg.")] = None,
    hour_angle: Annotated[str | None, typer.Option(
        "--hour-angle", metavar="ANGLE", help="At the first row, in deg, west positive.")] = None,
    latitude: common.LatitudeOption = None,
    centroid_noise: Annotated[str | None, typer.Option(
        "--centroid-noise", metavar="SIZE", help='How well a row places the star, air included, "0.3 arcsec"; if not '
        "given, what the air of the site does in the telescope of the rig.")] = None,
    exposure: Annotated[str | None, typer.Option(
        "--exposure", metavar="TIME", help="Of one row, in s; as the log says if not given, else its step.")] = None,
    keep_axis: Annotated[bool, typer.Option(
        "--keep-axis", help="The polar axis in the file was measured by itself: keep it, and count the drift in Dec "
        "that it leaves as flexure.")] = False,
    worm: Annotated[str | None, typer.Option(
        "--worm", metavar="PERIOD|TEETH", help='Period of the worm, "480 s", or teeth of its wheel, "180".')] = None,
    target: common.TargetOption = None, night: NightOption = None, save: common.SaveOption = False,
    anyway: common.AnywayOption = False, equipment: EquipmentOption = None, rig: RigOption = None,
    site: SiteOption = None, json: JsonOption = False,
) -> None:
    """Rates, periodic terms, wander and jitter from the log of an unguided star.

    Comments at the top of the file may give dec_deg, hour_angle_deg and latitude_deg; with them the polar axis and
    the drive rate that explain the drift follow, and --save writes the mount.

    What the mount's table says, its class or earlier measurements, is where the log starts from: ten minutes improve
    it, and what the log cannot tell stays. For the most: an hour, a row every second or two, a star within 30 deg of
    the equator; the polar axis first with "planner polar --save", then --keep-axis.
    """
    from planner.files.equipment.changed_advice import Effect
    from planner.files.equipment.history import log_counted
    from planner.measure.drift.answer import drift_answer

    given: dict[str, Any] = {
        "declination": common.degrees("--dec", dec, 90), "latitude": common.degrees("--latitude", latitude, 90),
        "hour_angle": common.degrees("--hour-angle", hour_angle, 360),
        "exposure": common.measure("--exposure", exposure, "s", '"0.5 s"')}
    noise = common.measure("--centroid-noise", centroid_noise, "arcsec", '"0.3 arcsec"')
    owned = open_equipment(equipment)
    frames, name = common.solved_frames(files), common.log_name(files)
    log = read_drift_log(files[0]) if frames is None else frames_drift(frames, common.stated_site(owned, site))
    log = replace(log, **{key: value for key, value in given.items() if value is not None})
    if site is None and log.site is not None and any(one.name.lower() == log.site.lower() for one in owned.sites):
        site = log.site
    used = owned.rig(rig) if save or not owned.is_demo or rig is not None else None
    place = None if owned.is_demo and site is None and used is None else owned.site(site)
    answer = drift_answer(log, used, place, centroid_noise=noise, keep_axis=keep_axis, worm_period=_worm(worm))
    mount, measured = None if used is None else used.mount, answer.measured
    if save and mount is not None and measured is None:
        raise InvalidInputError(*NO_PLACE)
    if save and not anyway:
        counted = None if mount is None else log_counted(equipment, mount.name, answer.fingerprint)
        common.refuse_doubtful(name, [*answer.blocked, *([] if counted is None else [counted])])
    effect = saved = None
    if measured is not None and mount is not None:
        effect = common.advice_effect(owned, (rig, site), measured.mount, target=target, night=night)
        if save:
            saved = common.save_mount(equipment, mount, measured.values, answer.fingerprint)
    if json:
        print_json(document(answer, Effect(saved=saved, advice=effect)))
        return
    _show(name, answer)
    if measured is not None and mount is not None:
        changes = [(one.key, one.before, one.after, one.state) for one in measured.figures]
        common.show_changes(changes, saved, mount, effect)


def _worm(text: str | None) -> u.Quantity | None:
    if text is None:
        return None
    if text.strip().isdigit():
        teeth = check("--worm", int(text), Rule(kind="whole", at_least=20, at_most=5000,
                                                remedy='Give the teeth of the wheel, or the period like "480 s".'))
        return SIDEREAL_DAY / teeth
    return common.measure("--worm", text, "s", '"480 s"')


def _show(name: str, answer: Any) -> None:
    """Print the report in words and tables."""
    from planner.measure.drift.text import drift_lines, noise_rows, polar_lines, term_rows

    report, polar = answer.report, answer.polar
    print_lines(f"{name}: {report.used} of {report.rows} rows used, {report.duration.to_value(u.min):.1f} min, "
                f"a row every {report.step.to_value(u.s):.3g} s.", *report.notes,
                *(f"Doubtful: {doubt.sentence}" for doubt in answer.doubts))
    _table("Drift and noise", noise_rows(report))
    print_lines(*drift_lines(report))
    terms = term_rows(report)
    if terms:
        _table("Periodic terms", terms)
    for axis in ("RA", "Dec"):
        if all(row["axis"] != axis for row in terms):
            faster = "faster" if axis == "RA" and report.ra.slow_turn else "periodic"
            print_lines(f"No {faster} term in {axis} stands out of the noise.")
    print_lines(*([] if polar is None else polar_lines(polar, of_mount=answer.measured is not None)), *answer.remarks)


def _table(title: str, rows: list[dict[str, str]]) -> None:
    """Print rows that name their columns, numbers to the right."""
    columns = tuple(rows[0])
    print_table(title, columns, [tuple(row.values()) for row in rows], right=columns[1:])
