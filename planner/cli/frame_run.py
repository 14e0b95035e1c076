"""Reading and measuring many frames on all cores, with a bar where that takes longer than a second."""

import os
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from planner.errors import InvalidInputError, PlannerError
from planner.files.frames import read_frame
from planner.measure.frame import Frame
from planner.measure.frame_report import Measured
from planner.measure.star_field import measure_frame
from planner.measure.trail_inversion import Optics, optics_of
from planner.rig import Telescope

BAR_AFTER_S = 1.0
MEMORY = "Close other programs, or try --workers 1."


@dataclass(frozen=True, kw_only=True)
class Task:
    """One file and how to measure it; it travels to another process."""

    path: Path
    colour: str
    mosaic: str | None
    saturation: float | None
    image_scale: Any  # Quantity or None: of the camera's pixels, where the header gives none
    telescope: Telescope | None
    wavelength: Any


def measure_file(task: Task) -> Measured:
    """Read and measure one file; what is wrong with it comes back as an error."""
    try:
        frame = read_frame(task.path, colour=task.colour, mosaic=task.mosaic)
        field = measure_frame(
            frame.image, saturation=frame.saturation if task.saturation is None else task.saturation,
            optics=_optics(task, frame), pixel_step=frame.pixel_step, overwrite=True)
    except PlannerError as error:
        return Measured(task.path, error=error)
    except MemoryError:
        return Measured(task.path, error=InvalidInputError("frame", task.path, "does not fit into memory", MEMORY))
    return Measured(task.path, replace(frame, image=np.empty((0, 0), np.float32)), field)


def _optics(task: Task, frame: Frame) -> Optics | None:
    scale = frame.image_scale if frame.image_scale is not None else task.image_scale
    if task.telescope is None or scale is None:
        return None
    return optics_of(task.telescope, task.wavelength, scale * frame.pixel_step)


def measure_files(tasks: list[Task], workers: int | None = None) -> list[Measured]:
    """Return the frames in the order of the tasks; `workers` processes, as many as there are cores if None."""
    if workers is not None and workers < 1:
        raise InvalidInputError("workers", workers, "must be at least 1", "Give the number of processes.")
    count = min(workers or os.cpu_count() or 1, len(tasks))
    results = map(measure_file, tasks) if count == 1 else _in_processes(tasks, count)
    return list(_with_bar(results, len(tasks)))


def _in_processes(tasks: list[Task], count: int) -> Iterator[Measured]:
    """Yield results in order from several processes; a process that dies costs its frames, not the series."""
    from concurrent.futures import ProcessPoolExecutor
    from concurrent.futures.process import BrokenProcessPool

    with ProcessPoolExecutor(count) as pool:
        futures = [pool.submit(measure_file, task) for task in tasks]
        for task, future in zip(tasks, futures, strict=True):
            try:
                yield future.result()
            except BrokenProcessPool:
                yield Measured(task.path, error=InvalidInputError("frame", task.path, "its process was ended", MEMORY))
            except KeyboardInterrupt:
                pool.shutdown(wait=False, cancel_futures=True)
                raise


def _with_bar(results: Iterator[Measured], total: int) -> Iterator[Measured]:
    """Pass results on; after a second, if stderr is a terminal, with a bar."""
    start, bar, task = time.monotonic(), None, None
    try:
        for index, result in enumerate(results, start=1):
            if bar is None and total > 1 and time.monotonic() - start > BAR_AFTER_S and sys.stderr.isatty():
                from rich.console import Console
                from rich.progress import Progress

                bar = Progress(console=Console(stderr=True), transient=True)
                bar.start()
                task = bar.add_task("Frames", total=total)
            if bar is not None and task is not None:
                bar.update(task, completed=index)
            yield result
    finally:
        if bar is not None:
            bar.stop()
