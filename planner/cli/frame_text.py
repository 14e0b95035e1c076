"""`planner frame` in words and tables."""

from typing import Any

import numpy as np

from planner.cli.output import print_table
from planner.measure.frame.report import FrameReport, Report
from planner.measure.frame.text import (
    angle_text,
    cause_lines,
    direction_text,
    elongation_text,
    length_text,
    part_lines,
    rejected_text,
    trail_lines,
    trail_text,
    trend_lines,
    width_text,
)


def show(report: Report) -> None:
    """Print one frame at length, or a table of many with their trends."""
    if len(report.frames) == 1:
        _show_one(report.frames[0], report.known)
    else:
        _show_many(report)


def _show_many(report: Report) -> None:
    rows = [(str(item.path.name), str(item.field.found), width_text(item), elongation_text(item), angle_text(item),
             trail_text(item), item.grade.verdict, "; ".join(item.grade.reasons)) for item in report.frames]
    angles = "position angle" if all(item.orientation is not None for item in report.frames) else "image angle"
    print_table(f"{len(report.frames)} frames", ("file", "stars", "FWHM", "elongation", angles, "trail", "grade", ""),
                rows, right=("stars", "FWHM", "elongation", angles, "trail"))
    counts = {verdict: sum(item.grade.verdict == verdict for item in report.frames) for verdict in
              ("keep", "look", "drop")}
    print(", ".join(f"{verdict} {count}" for verdict, count in counts.items())
          + f" (minor/major from {report.known.axis_ratio:g}, FWHM to {report.known.growth:.0%} above the best)")
    print(*trend_lines(report), sep="\n", end="\n" if report.trends else "")
    for line in dict.fromkeys(line for item in report.frames for line in item.notes):
        print(line)


def _show_one(item: FrameReport, known: Any) -> None:
    field = item.field
    print(f"{item.path.name}: {field.found} stars, {field.used} measured{rejected_text(field.rejected)}")
    if field.parts is not None:
        print(f"FWHM {width_text(item)} (along {length_text(field.fwhm_major, item)}, "
              f"across {length_text(field.fwhm_minor, item)}); "
              f"elongation {elongation_text(item)}{direction_text(item)}")
        print(*trail_lines(item), *(f"  {line}" for line in cause_lines(item)), sep="\n")
        _show_map(item)
        print(*part_lines(field.parts), sep="\n")
    if item.comparison is not None:
        print(*item.comparison.sentences, sep="\n")
    for line in item.notes:
        print(line)
    reasons = f": {'; '.join(item.grade.reasons)}" if item.grade.reasons else ""
    print(f"Grade: {item.grade.verdict}{reasons} (minor/major from {known.axis_ratio:g})")


def _show_map(item: FrameReport) -> None:
    """Print nine parts of the field as they lie in the image, high rows on top."""
    field = item.field
    rows = []
    for row in (2, 1, 0):
        rows.append([f"{field.map_fwhm[row, column].value:.2f} px, {field.map_elongation[row, column]:.2f}"
                     if np.isfinite(field.map_elongation[row, column]) else "few stars" for column in range(3)])
    print_table("FWHM and elongation, high rows on top", ("left", "middle", "right"), rows)
