"""`planner frame`: what test frames say about the stars, the mount and the optics."""

from pathlib import Path
from typing import Annotated, Any

import typer

from planner.checks import Rule, check
from planner.cli.asked import refuse
from planner.cli.options import EquipmentOption, JsonOption, RigOption, SiteOption, new_app
from planner.cli.output import note, print_json, print_lines
from planner.errors import InvalidInputError
from planner.fields import document

app = new_app()
REJECTED = 3  # exit code: some frames are rejected
ScaleOption = Annotated[str | None, typer.Option(
    "--image-scale", metavar="ANGLE", help="Sky per pixel, in arcsec; else from the header or your rig.")]
AngleOption = Annotated[str | None, typer.Option(
    "--camera-angle", metavar="ANGLE", help="Position angle, in deg, of the direction in which rows grow (up).")]
MirroredOption = Annotated[bool, typer.Option("--mirrored", help="East lies right of north in the image.")]
TargetOption = Annotated[str | None, typer.Option(
    "--target", metavar="TEXT", help="Where the frames point: a name or coordinates; else from the header.")]
ExposureOption = Annotated[str | None, typer.Option(
    "--exposure", metavar="TIME", help="Of each, in s; else the header's.")]
HourAngleOption = Annotated[str | None, typer.Option(
    "--hour-angle", metavar="ANGLE", help="In deg at the start, west positive; else from time and site.")]
FilterOption = Annotated[str | None, typer.Option("--filter", metavar="NAME", help="One of the rig's; else its first.")]
GuidedOption = Annotated[bool, typer.Option("--guided", help="The frames were guided: no motion is expected.")]
ColourOption = Annotated[str, typer.Option("--colour", metavar="COLOUR", help="red, green or blue of colour frames.")]
MosaicOption = Annotated[str | None, typer.Option(
    "--mosaic", metavar="RGGB", help="Order of a colour mosaic, or none; else the header's.")]
SaturationOption = Annotated[float | None, typer.Option(
    "--saturation", metavar="LEVEL", help="Level where pixels clip; else the header's.")]
LogOption = Annotated[Path | None, typer.Option(
    "--log", metavar="CSV", help="Write the stars' motion over a series as a new drift log.")]
StarsOption = Annotated[Path | None, typer.Option("--stars", metavar="CSV", help="Write the measured stars.")]
RejectsOption = Annotated[Path | None, typer.Option(
    "--rejects", metavar="FILE", help="Write the rejected frames, one a line; - prints them alone. Code 3 if any.")]
SaveOption = Annotated[bool, typer.Option(
    "--save", help="Add the night's seeing to the record of your site, and write what all nights say into its table.")]
WatchOption = Annotated[bool, typer.Option("--watch", help="Measure each frame as it arrives in the folder named.")]
IdleOption = Annotated[str | None, typer.Option(
    "--idle", metavar="TIME", help="Stop watching after so long without a frame, in s; else Ctrl-C.")]
WorkersOption = Annotated[int | None, typer.Option("--workers", metavar="N", help="Processes; else one per core.")]
ResultsOption = Annotated[Path | None, typer.Option(
    "--results", metavar="FILE", help="ECSV file that takes each frame as it is measured; one that is there goes on.")]
SchedulerOption = Annotated[str | None, typer.Option(
    "--scheduler", metavar="ADDRESS", help="Measure on the workers of a dask scheduler, tcp://HOST:8786, or on workers "
    'started for it: "here". Whoever reaches a scheduler runs code on its workers: only on a network you trust.')]


@app.command()
def frame(
    files: Annotated[list[Path], typer.Argument(
        metavar="FILE...", help="FITS files in order of time, folders of them, or - for standard input.")],
    image_scale: ScaleOption = None, camera_angle: AngleOption = None, mirrored: MirroredOption = False,
    target: TargetOption = None, exposure: ExposureOption = None, hour_angle: HourAngleOption = None,
    filter_name: FilterOption = None, guided: GuidedOption = False, colour: ColourOption = "green",
    mosaic: MosaicOption = None, saturation: SaturationOption = None, log: LogOption = None,
    stars: StarsOption = None, rejects: RejectsOption = None, save: SaveOption = False,
    watch: WatchOption = False, idle: IdleOption = None,
    workers: WorkersOption = None, scheduler: SchedulerOption = None, results: ResultsOption = None,
    rig: RigOption = None, site: SiteOption = None, equipment: EquipmentOption = None, json: JsonOption = False,
) -> None:
    """Measure the stars of test frames: width, elongation, trail, and what the rig should have made of them.

    Rig and site count once you name them or have an equipment file of your own.
    """
    known = _known(equipment, rig, site, filter_name, target, image_scale, camera_angle, mirrored, exposure, hour_angle,
                   guided)
    from planner.cli.measure.frame_run import Task, frame_files, measure_files
    from planner.files.reading import STANDARD_INPUT
    from planner.files.writing import refuse_unwritable, write_new
    from planner.measure.frame.grade import REJECT
    from planner.measure.frame.model import FrameFiles
    from planner.measure.frame.report import Report, reported

    for option, path in {"--log": log, "--stars": stars, "--rejects": rejects}.items():
        if path is not None and (option, str(path)) != ("--rejects", STANDARD_INPUT):
            refuse_unwritable(option, path)
    if saturation is not None:
        check("saturation", saturation, Rule(more_than=0, remedy="Give it in the frame's unit."))

    def task_of(path: Any) -> Task:
        return Task(path=path, colour=colour, mosaic=mosaic, saturation=saturation, image_scale=known.usual_scale,
                    telescope=known.rig.telescope if known.rig else None,
                    wavelength=known.band.centre if known.band else None)

    if watch:
        refuse({"--scheduler": scheduler, "--results": results, "--log": log, "--stars": stars, "--rejects": rejects,
                "--save": save or None, "--json": json or None}, "does not go with --watch")
        _watch(files, task_of, known, idle)
        return
    measured = measure_files([task_of(path) for path in frame_files(files)], workers, scheduler=scheduler,
                             results=results)
    good = [result for result in measured if result.error is None]
    if not good:
        raise _first_error(measured)
    report: Report = reported(good, known)
    if stars is not None:
        from planner.files.measured.frame_log import write_stars

        write_stars(stars, [(item.path.name, item.field) for item in report.frames])
    written = None if log is None else _write_log(log, report)
    rejected = [str(item.path) for item in report.frames if item.grade.verdict == REJECT]
    if rejects is not None and str(rejects) != STANDARD_INPUT:
        write_new(rejects.expanduser(), "".join(f"{name}\n" for name in rejected), what="rejects", folders=False,
                  remedy="Give another name with --rejects.")
    kept = _keep_seeing(equipment, report) if save else None
    if rejects is not None and str(rejects) == STANDARD_INPUT:
        print(*rejected, sep="\n", end="\n" if rejected else "")
    elif json:
        print_json(document(report, FrameFiles(
            log=written, saved=None if kept is None else kept.equipment,
            skipped=tuple(result for result in measured if result.error))))
    else:
        from planner.cli.measure.frame_text import show

        show(report)
        if written is not None:
            print_lines(f'Drift log of the series written to {written}; "planner drift {written}" reads it.')
        if kept is not None:
            print_lines(kept.sentence)
    for result in measured:
        if result.error is not None:
            note(f"Skipped: {result.error}")
    if rejects is not None and rejected:
        raise typer.Exit(REJECTED)


def _watch(files: list[Path], task_of: Any, known: Any, idle: str | None) -> None:
    from astropy import units as u

    from planner.cli.measure.frame_watch import watch
    from planner.files.quantities import parse_option

    if len(files) != 1:
        raise InvalidInputError("watch", len(files), "must be one folder", "Name the one that frames are written to.")
    rule = Rule(unit=u.s, kind="quantity", more_than=0, remedy="Give it in seconds.")
    patience = None if idle is None else float(parse_option("idle", idle, rule).to_value(u.s))
    watch(files[0].expanduser(), task_of, known, patience)


def _first_error(results: list[Any]) -> Exception:
    """Return the first problem, saying how many more there are."""
    first, more = results[0].error, len(results) - 1
    if not more or not isinstance(first, InvalidInputError):
        return first
    return InvalidInputError(first.name, first.value, first.rule, f"{first.remedy} ({more} more cannot be used.)")


def _known(equipment: Path | None, rig: str | None, site: str | None, filter_name: str | None, target: str | None,
           image_scale: str | None, camera_angle: str | None, mirrored: bool, exposure: str | None,
           hour_angle: str | None, guided: bool) -> Any:
    """Return what options and equipment say; the demo counts only where a part of it is named."""
    from astropy import units as u

    from planner.files.equipment import load_equipment
    from planner.files.quantities import parse_option
    from planner.measure.frame.model import Known
    from planner.rig.equipment import find_by_name

    def option(name: str, text: str | None, unit: Any, **rule: Any) -> Any:
        return None if text is None else parse_option(name, text, Rule(unit=unit, kind="quantity", **rule))

    owned = load_equipment(equipment)
    usual = owned.rig(rig)
    used = usual if rig is not None or not owned.is_demo else None
    place = owned.site(site) if site is not None or not owned.is_demo else None
    band = None if used is None else find_by_name("filter", used.filters, filter_name)
    scale = option("image-scale", image_scale, u.arcsec / u.pix, more_than=0, at_most=3600)
    if used is not None and rig is None and len(owned.rigs) > 1:
        note(f'Taken for frames of rig "{used.name}", the first of the file; --rig names another.')
    where = None
    if target is not None:
        from planner.files.targets import find_target

        where = find_target(target)
    return Known(
        rig=used, site=place, band=band, target=where, scale=scale, mirrored=mirrored, guided=guided,
        camera_angle=option("camera-angle", camera_angle, u.deg, at_least=-360, at_most=360),
        exposure=option("exposure", exposure, u.s, more_than=0, at_most=1e5),
        hour_angle=option("hour-angle", hour_angle, u.deg, at_least=-360, at_most=360),
        axis_ratio=usual.tolerated_axis_ratio, growth=usual.tolerated_growth)


def _keep_seeing(equipment: Path | None, report: Any) -> Any:
    """Save the night's seeing for the site."""
    from planner.files.measured.seeing_record import keep_seeing
    from planner.measure.frame.night import why_no_seeing

    if report.seeing is None:
        raise InvalidInputError("--save", "seeing", *why_no_seeing(report.frames, report.known))
    return keep_seeing(equipment, report.known.site, report.seeing)


def _write_log(path: Path, report: Any) -> Path:
    from planner.files.measured.frame_log import write_drift_log
    from planner.measure.frame.report import series_log

    write_drift_log(path, series_log(report))
    return path
