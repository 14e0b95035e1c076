"""`planner pier sway`: how far the pier sways in a night's wind, from the star of a windy log."""

from pathlib import Path
from typing import Annotated

import typer

from planner.cli.measure.measured import log_name, solved_frames
from planner.cli.of_file import OfFile
from planner.cli.options import JsonOption
from planner.cli.output import print_json, print_lines
from planner.fields import document
from planner.files.logs import frames_drift, read_drift_log
from planner.measure.drift.model import DriftReport


def sway(
    files: Annotated[list[Path], typer.Argument(
        metavar="FILE...", help='Log of an unguided star in the wind, as "planner drift" reads it, or solved short '
        "frames of one field, taken one after the other, or their folder.")],
    calm: Annotated[Path | None, typer.Option(
        "--calm", metavar="FILE", help="The same of that rig on that pier without wind.")] = None,
    json: JsonOption = False,
) -> None:
    """How far the pier sways in the wind, measured: a quarter of an hour or more, rows of at most 10 s.

    What comes back is sway; noise and wander are told apart by how the star's differences grow with time. Only
    declination counts, which no worm moves.
    """
    from planner.measure.drift.sway import measured_sway

    found = measured_sway(_report(files), None if calm is None else _report([calm]))
    if json:
        print_json(document(OfFile(file=log_name(files)), found))
        return
    print_lines(*found.lines)


def _report(files: list[Path]) -> DriftReport:
    from planner.measure.drift.report import analyse_drift

    frames = solved_frames(files)
    return analyse_drift(read_drift_log(files[0]) if frames is None else frames_drift(frames, None))
