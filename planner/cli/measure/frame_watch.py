"""`planner frame --watch FOLDER`: each frame as it arrives, against the frames before it and what the rig promised."""

import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from planner.cli.output import print_lines
from planner.files.measured.arriving import Arriving
from planner.files.measured.frame_task import Task, measure_file
from planner.measure.frame.model import Known, Measured
from planner.measure.frame.report import reported
from planner.measure.frame.series_text import frame_lines, next_lines

POLL_S = 1.0


def watch(folder: Path, task_of: Callable[[Path], Task], known: Known, idle: float | None) -> None:
    """Print a line for each new frame of a folder, and what to do whenever that changes, until interrupted.

    `task_of`: how to measure a file. `idle`: seconds without a new frame after which to stop.
    """
    arriving = Arriving(folder)
    good: list[Measured] = []
    said: list[str] = []
    print(f"Watching {folder}; Ctrl-C ends it.", flush=True)
    for path in _arriving(arriving, idle):
        result = measure_file(task_of(path))
        good = [one for one in good if one.path != path]  # written anew
        if result.error is not None:
            _tell(f"Skipped: {result.error}")
            continue
        good.append(result)
        report = reported(good, known)
        _tell(*frame_lines(report.frames[-1]))
        advice = next_lines(report) if len(good) > 2 else []
        if advice != said:
            _tell(*(f"  {line}" for line in advice))
            said = advice


def _arriving(folder: Arriving, idle: float | None) -> Iterator[Path]:
    """Yield the files of a folder as they are complete."""
    last, gone = time.monotonic(), False
    try:
        while idle is None or time.monotonic() - last < idle:
            for path in folder.complete():
                yield path
                last = time.monotonic()
            if folder.gone and not gone:
                _tell("The folder is not there; it is looked for again and again.")
            gone = folder.gone
            time.sleep(POLL_S)
    except KeyboardInterrupt:
        return


def _tell(*lines: str) -> None:
    """Print lines at once: who watches waits for them."""
    print_lines(*lines)
    sys.stdout.flush()
