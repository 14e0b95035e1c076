"""Long answers, worked out in processes of their own, so that the pages' process stays free for everyone else's clicks.

A question is a function and its arguments, all of which can be pickled. It waits for a helper, a bare Python that works
out one question at a time and ends with the app. Who shares a question shares its `Future`.
"""

import contextlib
import os
import pickle
import queue
import signal
import subprocess
import sys
import threading
from collections.abc import Callable
from concurrent.futures import Future
from functools import cache
from pathlib import Path
from typing import Any

import planner
from planner.errors import PlannerError

HELPERS = max(2, min(4, (os.cpu_count() or 1) - 1))  # the pages go first on every core
# A helper's matrices are small: threads that wait for each other took a quarter of the time of "how sure".
ONE_THREAD = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "MKL_NUM_THREADS": "1"}
_NICE = 1
_TRIES = 2  # a helper that was lost is replaced once


class LostHelperError(PlannerError):
    """No helper lived to answer."""


def ask(function: Callable[..., Any], *args: Any, **named: Any) -> Future[Any]:
    """Return the answer to come of a function that stands in a module of the planner."""
    future: Future[Any] = Future()
    _questions().put((future, pickle.dumps((function, args, named))))
    return future


@cache
def _questions() -> queue.SimpleQueue[tuple[Future[Any], bytes]]:
    """Return the queue of questions, its helpers waiting at it."""
    questions: queue.SimpleQueue[tuple[Future[Any], bytes]] = queue.SimpleQueue()
    for _ in range(HELPERS):
        threading.Thread(target=_answer_all, args=(questions,), daemon=True).start()
    return questions


def _answer_all(questions: queue.SimpleQueue[tuple[Future[Any], bytes]]) -> None:
    """Pass question after question to a helper, and its answers on."""
    helper = _helper()
    while True:
        future, question = questions.get()
        for _ in range(_TRIES):
            try:
                helper.stdin.write(question)
                helper.stdin.flush()
                answer, problem = pickle.load(helper.stdout)
                break
            except (OSError, EOFError, pickle.UnpicklingError):
                with contextlib.suppress(OSError), helper:
                    helper.kill()
                helper, answer, problem = _helper(), None, LostHelperError("The process that worked this out was lost.")
        if problem is None:
            future.set_result(answer)
        else:
            future.set_exception(problem)


def _helper() -> Any:
    """Start a helper."""
    paths = [str(Path(planner.__file__).parents[1]), os.environ.get("PYTHONPATH", "")]
    return subprocess.Popen(
        [sys.executable, "-m", "planner.ui.outside"], stdin=subprocess.PIPE,
        stdout=subprocess.PIPE, env={**os.environ, **ONE_THREAD, "PYTHONPATH": os.pathsep.join(filter(None, paths))})


def _serve() -> None:
    """Answer questions from the standard input until it is closed; what is printed goes to the standard error."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the app, whose end closes the input
    if hasattr(os, "nice"):
        os.nice(_NICE)
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    while True:
        try:
            function, args, named = pickle.load(sys.stdin.buffer)
        except EOFError:
            return
        try:
            found = pickle.dumps((function(*args, **named), None))
        except Exception as error:  # whoever asked is told
            found = pickle.dumps((None, error))
        answers.write(found)
        answers.flush()


if __name__ == "__main__":
    _serve()
