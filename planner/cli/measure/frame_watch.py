"""`planner frame --watch FOLDER`: each frame as it arrives, against the frames before it and what the rig promised."""

import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from planner.cli.measure.frame_run import SUFFIXES
from planner.cli.output import print_lines
from planner.errors import InvalidInputError
from planner.exposure.reasons import percent
from planner.files.measured.frame_task import Task, measure_file
from planner.measure.frame.model import FrameReport, Known, Measured
from planner.measure.frame.report import reported
from planner.measure.frame.series_text import next_lines
from planner.measure.frame.text import elongation_text, width_text

POLL_S = 1.0


def watch(folder: Path, task_of: Callable[[Path], Task], known: Known, idle: float | None) -> None:
    """Print a line for each new frame of a folder, and what to do whenever that changes, until interrupted.

    `task_of`: how to measure a file. `idle`: seconds without a new frame after which to stop.
    """
    try:
        there = folder.is_dir()
    except OSError:
        there = False
    if not there:
        raise InvalidInputError("watch", folder, "must be a folder", "Name the one that the frames are written to.")
    good: list[Measured] = []
    said: list[str] = []
    print(f"Watching {folder}; Ctrl-C ends it.", flush=True)
    for path in _arriving(folder, idle):
        result = measure_file(task_of(path))
        if result.error is not None:
            _tell(f"Skipped: {result.error}")
            continue
        good.append(result)
        report = reported(good, known)
        _tell(*_lines(report.frames[-1]))
        advice = next_lines(report) if len(good) > 2 else []
        if advice != said:
            _tell(*(f"  {line}" for line in advice))
            said = advice


def _arriving(folder: Path, idle: float | None) -> Iterator[Path]:
    """Yield the files of a folder as they are complete: of one size at two looks."""
    done: set[Path] = set()
    sizes: dict[Path, int] = {}
    last = time.monotonic()
    try:
        while idle is None or time.monotonic() - last < idle:
            now = _sizes(folder, done)
            for path in [path for path, size in now.items() if size and sizes.get(path) == size]:
                done.add(path)
                yield path
                last = time.monotonic()
            sizes = now
            time.sleep(POLL_S)
    except KeyboardInterrupt:
        return


def _sizes(folder: Path, done: set[Path]) -> dict[Path, int]:
    """Return the sizes of the new FITS files of a folder; those that go away meanwhile are left out."""
    sizes = {}
    try:
        for path in sorted(folder.iterdir()):
            if path not in done and path.name.lower().endswith(SUFFIXES) and path.is_file():
                sizes[path] = path.stat().st_size
    except OSError:
        return {}
    return sizes


def _tell(*lines: str) -> None:
    """Print lines at once: who watches waits for them."""
    print_lines(*lines)
    sys.stdout.flush()


def _lines(item: FrameReport) -> list[str]:
    """Return one frame in a line: verdict, width, shape, light, and where it is off what was expected."""
    light = "" if item.light != item.light else f", light {percent(item.light)}"
    why = f": {'; '.join(item.grade.reasons)}" if item.grade.reasons else ""
    line = (f"{item.path.name}  {item.grade.verdict}{why}  (FWHM {width_text(item).split(' = ')[0]}, elongation "
            f"{elongation_text(item)}{light})")
    off = [] if item.comparison is None else [
        sentence for sentence in item.comparison.sentences if not sentence.endswith("as expected for this rig.")]
    return [line, *(f"  {sentence}" for sentence in off)]
