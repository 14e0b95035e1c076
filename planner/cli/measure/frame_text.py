"""`planner frame` in words and tables."""

from typing import Any

import numpy as np

from planner.cli.output import print_lines, print_table
from planner.measure.frame.grade import KEEP, LOOK, REJECT
from planner.measure.frame.model import FrameReport
from planner.measure.frame.report import Report
from planner.measure.frame.series_text import next_lines, night_lines, seeing_lines, trend_lines
from planner.measure.frame.text import (
    cause_lines,
    direction_text,
    elongation_text,
    length_text,
    part_lines,
    rejected_text,
    tolerated_text,
    trail_lines,
    width_text,
)

VERDICTS = (KEEP, LOOK, REJECT)
MOST_ROWS = 12  # a longer series shows only the frames that are not kept
NAME_WIDTH = 24


def show(report: Report) -> None:
    """Print one frame at length, or a table of many with their trends."""
    if len(report.frames) == 1:
        _show_one(report.frames[0], report.known)
    else:
        _show_many(report)
    print_lines(*seeing_lines(report))


def _show_many(report: Report) -> None:
    counts = {verdict: sum(item.grade.verdict == verdict for item in report.frames) for verdict in VERDICTS}
    print_lines(
        f"{len(report.frames)} frames: " + ", ".join(f"{verdict} {count}" for verdict, count in counts.items())
        + f" ({tolerated_text(report.known, series=True)})",
        *next_lines(report))
    shown = list(report.frames) if len(report.frames) <= MOST_ROWS else [
        item for item in report.frames if item.grade.verdict != KEEP]
    shown.sort(key=lambda item: VERDICTS[::-1].index(item.grade.verdict))
    if shown:
        print_table("" if len(shown) == len(report.frames) else "Leave out, or look at", (
            "grade", "file", "FWHM", "elong.", "why"), [_row(item) for item in shown], right=("FWHM", "elong."))
    print_lines(*trend_lines(report), *night_lines(report),
                *dict.fromkeys(line for item in report.frames for line in item.notes))


def _row(item: FrameReport) -> tuple[str, ...]:
    """Return one frame as a row that leaves room on 80 columns."""
    name = item.path.name
    elongation = "" if item.field.parts is None else f"{item.field.elongation:.2f}"
    return (item.grade.verdict, name if len(name) <= NAME_WIDTH else f"…{name[1 - NAME_WIDTH:]}",
            length_text(item.field.fwhm, item).split(" = ")[0], elongation, "; ".join(item.grade.reasons))


def _show_one(item: FrameReport, known: Any) -> None:
    field = item.field
    print_lines(f"{item.path.name}: {field.found} stars, {field.used} measured{rejected_text(field.rejected)}")
    if field.ring.value:
        print_lines(f"The stars are rings, {length_text(field.ring, item)} wide: neither width nor trail can be told.")
    elif field.parts is not None:
        print_lines(f"FWHM {width_text(item)} (along {length_text(field.fwhm_major, item)}, "
                    f"across {length_text(field.fwhm_minor, item)}); "
                    f"elongation {elongation_text(item)}{direction_text(item)}",
                    *trail_lines(item), *(f"  {line}" for line in cause_lines(item)))
        _show_map(item)
        print_lines(*part_lines(field.parts))
    print_lines(*([] if item.comparison is None else item.comparison.sentences), *item.notes)
    reasons = f": {'; '.join(item.grade.reasons)}" if item.grade.reasons else ""
    limits = "" if "tolerated" in reasons else f" ({tolerated_text(known)})"
    print_lines(f"Grade: {item.grade.verdict}{reasons}{limits}")


def _show_map(item: FrameReport) -> None:
    """Print nine parts of the field as they lie in the image, high rows on top."""
    field = item.field
    rows = []
    for row in (2, 1, 0):
        rows.append([f"{field.map_fwhm[row, column].value:.2f} px, {field.map_elongation[row, column]:.2f}"
                     if np.isfinite(field.map_elongation[row, column]) else "few stars" for column in range(3)])
    print_table("FWHM and elongation, high rows on top", ("left", "middle", "right"), rows)
