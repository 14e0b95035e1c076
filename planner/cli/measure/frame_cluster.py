"""Work on the workers of a dask scheduler, frames above all: the same code and values, in the order of the tasks.

A task whose worker is lost goes to another one; only one that took three workers with it is given up, a frame with an
error of its own. Workers need this program in the same version and the frames under the same paths.
"""

import contextlib
import functools
import logging
import os
import re
import sys
import threading
from collections.abc import Callable, Iterator
from typing import Any, TypeVar

from planner import __version__
from planner.errors import InvalidInputError
from planner.files.measured.frame_task import Task, measure_file
from planner.measure.frame.model import Measured

HERE = "here"  # in place of an address: workers of our own on this machine
ADDRESS = re.compile(r"(?:(?:tcp|tls)://)?[\w.:\[\]-]+:[0-9]{1,5}")
PATIENCE_S = 10
AHEAD = 1000  # tasks handed out before the first one is back: what the scheduler has to remember
LOST = "Give it more memory, or leave the frame out."
_alone = threading.Lock()
T = TypeVar("T")
R = TypeVar("R")


def measure_alone(task: Task, folder: str) -> Measured:
    """Measure one frame as if from `folder`, one at a time in a process: the C code that finds stars keeps settings."""
    with _alone:
        try:
            with contextlib.chdir(folder):
                return measure_file(task)
        except OSError as error:
            problem = InvalidInputError("frame", task.named, f"its worker cannot enter {folder} ({error.strerror})",
                                        "Start workers that have the frames under the same paths.")
            return Measured(task.named, error=problem)


def version_here() -> str:
    """Return the version of the program on a worker."""
    return __version__


def measure_on_cluster(tasks: list[Task], address: str, workers: int | None) -> Iterator[Measured]:
    """Yield the frames in the order of the tasks; parameters and errors as of `on_cluster`."""
    return on_cluster(functools.partial(measure_alone, folder=os.getcwd()), tasks, address, workers, _lost)


def _lost(task: Task) -> Measured:
    return Measured(task.named, error=InvalidInputError("frame", task.named, "its worker was lost with it, three times",
                                                        LOST))


def on_cluster(function: Callable[[T], R], tasks: list[T], address: str, workers: int | None,
               lost: Callable[[T], R]) -> Iterator[R]:
    """Yield what a function makes of each task, in their order.

    `function`: of a module that the workers have too. `address`: of the scheduler, like ``tcp://192.0.2.7:8786``;
    `HERE` for workers on this machine, reached by nobody else. `workers`: how many of those; one per core if None.
    `lost`: makes the result of a task that took its workers with it.
    Raises InvalidInputError if it is no address, the extra is not installed, nobody answers, no worker comes, or one
    has another version.
    """
    if address != HERE and not ADDRESS.fullmatch(address):
        raise InvalidInputError("scheduler", address, "must be an address or the word here",
                                "Write it like tcp://192.0.2.7:8786.")
    if address != HERE and workers is not None:
        raise InvalidInputError("workers", workers, "counts on this machine alone", "A scheduler has its own workers.")
    try:
        from distributed import Client, LocalCluster
        from distributed.scheduler import KilledWorker
    except ImportError:
        raise InvalidInputError("scheduler", address, "needs dask.distributed",
                                'Install it: pip install "planner[cluster]".') from None
    logging.getLogger("distributed").setLevel(logging.CRITICAL)
    with contextlib.ExitStack() as stack:
        if address == HERE:
            cluster = LocalCluster(n_workers=workers, threads_per_worker=1, host="127.0.0.1", dashboard_address=None,
                                   silence_logs=logging.CRITICAL)
            address = stack.enter_context(cluster).scheduler_address
        try:
            client = stack.enter_context(Client(address, timeout=PATIENCE_S, set_as_default=False))
        except (OSError, ValueError, TypeError) as error:
            raise InvalidInputError("scheduler", address, f"does not answer ({type(error).__name__})",
                                    "Start one with: dask scheduler") from None
        _require_workers(client, address)
        yield from _in_order(client, function, tasks, lost, KilledWorker)


def _require_workers(client: Any, address: str) -> None:
    """Refuse a scheduler without workers, and workers that would measure otherwise."""
    try:
        client.wait_for_workers(1, timeout=PATIENCE_S)
    except TimeoutError:
        raise InvalidInputError("scheduler", address, "has no workers",
                                f"Start some with: dask worker {address} --nthreads 1") from None
    # A worker that cannot read the question answers with an error, one that was lost since with an OSError: what it
    # would have done is another's.
    versions = client.run(version_here, on_error="return")
    others = {worker: found for worker, found in versions.items()
              if found != __version__ and not isinstance(found, OSError)}
    if any(isinstance(found, Exception) for found in others.values()):
        raise InvalidInputError("scheduler", address, "has a worker without this program",
                                f"Install planner {__version__} there.")
    if others:
        worker, found = next(iter(others.items()))
        raise InvalidInputError("scheduler", address, f"has a worker with version {found} ({worker})",
                                f"Install planner {__version__} there.")


def _result(client: Any, future: Any) -> Any:
    """Return a result as soon as it is there; say so, once, when nobody is left who could bring it."""
    alone = False
    while True:
        try:
            return future.result(timeout=PATIENCE_S)
        except TimeoutError:
            if future.done():  # the task's own
                raise
        if not alone and not client.scheduler_info()["workers"]:
            alone = True
            print(f"No worker is left; waiting for one. Start it with: dask worker {client.scheduler.address} "
                  "--nthreads 1, or end this with Ctrl-C.", file=sys.stderr, flush=True)


def _in_order(client: Any, function: Callable[[T], R], tasks: list[T], lost: Callable[[T], R], killed: Any
              ) -> Iterator[R]:
    """Yield results in order, a bounded number of tasks ahead."""
    waiting: list[Any] = [client.submit(function, task, pure=False) for task in tasks[:AHEAD]]
    for number, task in enumerate(tasks):
        try:
            result = _result(client, waiting[number % AHEAD])
        except killed:
            result = lost(task)
        waiting[number % AHEAD] = None  # what is here need not be made again when its worker is lost
        if number + AHEAD < len(tasks):
            waiting[number % AHEAD] = client.submit(function, tasks[number + AHEAD], pure=False)
        yield result
