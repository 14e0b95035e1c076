"""Reading and measuring many frames on all cores, with a bar where that takes longer than a second."""

import os
import sys
import time
from collections.abc import Iterator
from pathlib import Path

from planner.errors import InvalidInputError
from planner.files.frames.load import LARGEST_FILE, SUFFIXES
from planner.files.measured.frame_task import Task, measure_file
from planner.files.reading import STANDARD_INPUT, InMemory
from planner.measure.frame.model import Measured

BAR_AFTER_S = 1.0
MEMORY = "Close other programs, or try --workers 1."


def frame_files(named: list[Path]) -> list[Path | InMemory]:
    """Return the files to measure: those named, those in a folder by name, and what comes on standard input."""
    found: list[Path | InMemory] = []
    for path in named:
        if str(path) == STANDARD_INPUT:
            found.append(InMemory("standard input", sys.stdin.buffer.read(LARGEST_FILE)))
        else:
            found += _inside(path)
    return found


def _inside(path: Path) -> list[Path]:
    """Return the FITS files of a folder by name; a path that is no folder, or cannot be entered, alone."""
    try:
        if not path.is_dir():
            return [path]
        inside = sorted(one for one in path.iterdir() if one.name.lower().endswith(SUFFIXES))
    except (OSError, ValueError):
        return [path]
    if not inside:
        raise InvalidInputError("frame", path, "is a folder without FITS files", "Give the files themselves.")
    return inside


def measure_files(tasks: list[Task], workers: int | None = None, *, scheduler: str | None = None,
                  results: Path | None = None) -> list[Measured]:
    """Return the frames in the order of the tasks.

    `workers`: processes, as many as there are cores if None. `scheduler`: of dask, whose workers measure instead: see
    `frame_cluster`. `results`: file of what was measured: what it holds is not measured again, and the rest is added
    as it comes.
    """
    if workers is not None and workers < 1:
        raise InvalidInputError("workers", workers, "must be at least 1", "Give the number of processes.")
    if results is None:
        return list(_with_bar(_measured(tasks, workers, scheduler), len(tasks)))
    return list(_with_bar(_resumed(tasks, workers, scheduler, results), len(tasks)))


def _resumed(tasks: list[Task], workers: int | None, scheduler: str | None, results: Path) -> Iterator[Measured]:
    """Yield what a file of results holds, else what is measured and added to it."""
    from planner.files.measured.frame_results import Results

    file = Results(results, tasks)
    known = [file.known(task) for task in tasks]
    fresh = _measured([task for task, found in zip(tasks, known, strict=True) if found is None], workers, scheduler)
    for task, found in zip(tasks, known, strict=True):
        if found is None:
            found = next(fresh)
            file.add(task, found)
        yield found


def _measured(tasks: list[Task], workers: int | None, scheduler: str | None) -> Iterator[Measured]:
    """Yield the frames, measured here or by the workers of a scheduler."""
    if not tasks:
        return
    if scheduler is not None:
        from planner.cli.measure.frame_cluster import measure_on_cluster

        yield from measure_on_cluster(tasks, scheduler, workers)
        return
    count = min(workers or os.cpu_count() or 1, len(tasks))
    yield from map(measure_file, tasks) if count <= 1 else _in_processes(tasks, count)


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
                problem = InvalidInputError("frame", task.named, "its process was ended", MEMORY)
                yield Measured(task.named, error=problem)
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
