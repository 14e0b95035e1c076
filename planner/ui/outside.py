"""Long answers, worked out in processes of their own, so that the pages' process stays free for everyone else's clicks.

A question is a function and its arguments, all of which can be pickled. It waits for a helper, a bare Python that works
out one question at a time and ends with the app. Who shares a question shares its `Future`. What a headline waits for,
and takes a fraction of a second, goes before all else and has a helper that does nothing else.
"""

import contextlib
import os
import pickle
import signal
import subprocess
import sys
import threading
from collections import deque
from collections.abc import Callable
from concurrent.futures import Future
from functools import cache
from pathlib import Path
from typing import Any

import planner
from planner.errors import PlannerError

HELPERS = max(2, min(4, (os.cpu_count() or 1) - 1))  # for all questions; one more for the short ones
# A helper's matrices are small: threads that wait for each other took a quarter of the time of "how sure".
ONE_THREAD = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "MKL_NUM_THREADS": "1"}
_NICE = 5  # of the helpers for all questions: the pages and the short ones go first on every core
_TRIES = 2  # a helper that was lost is replaced once


class LostHelperError(PlannerError):
    """No helper lived to answer."""


def ask(function: Callable[..., Any], *args: Any, **named: Any) -> Future[Any]:
    """Return the answer to come of a function that stands in a module of the planner."""
    return _asked(False, function, args, named)


def ask_first(function: Callable[..., Any], *args: Any, **named: Any) -> Future[Any]:
    """Return the same of a function that takes a fraction of a second and that a headline waits for."""
    return _asked(True, function, args, named)


def _asked(short: bool, function: Callable[..., Any], args: tuple[Any, ...], named: dict[str, Any]) -> Future[Any]:
    future: Future[Any] = Future()
    _questions().put((future, pickle.dumps((function, args, named))), short)
    return future


_Question = tuple[Future[Any], bytes]


class _Questions:
    """The questions that wait: the short ones first, each kind in the order in which it was asked."""

    def __init__(self) -> None:
        self.short: deque[_Question] = deque()
        self.long: deque[_Question] = deque()
        self.changed = threading.Condition()

    def put(self, question: _Question, short: bool) -> None:
        with self.changed:
            (self.short if short else self.long).append(question)
            self.changed.notify_all()

    def next(self, short_only: bool) -> _Question:
        with self.changed:
            self.changed.wait_for(lambda: self.short or (self.long and not short_only))
            return (self.short or self.long).popleft()


@cache
def _questions() -> _Questions:
    """Return the questions, the helpers waiting at them."""
    questions = _Questions()
    for short_only in (True, *[False] * HELPERS):
        threading.Thread(target=_answer_all, args=(questions, short_only), daemon=True).start()
    return questions


def _answer_all(questions: _Questions, short_only: bool) -> None:
    """Pass question after question to a helper, and its answers on."""
    helper = _helper(short_only)
    while True:
        future, question = questions.next(short_only)
        for _ in range(_TRIES):
            try:
                helper.stdin.write(question)
                helper.stdin.flush()
                answer, problem = pickle.load(helper.stdout)
                break
            except (OSError, EOFError, pickle.UnpicklingError):
                with contextlib.suppress(OSError), helper:
                    helper.kill()
                helper, answer = _helper(short_only), None
                problem = LostHelperError("The process that worked this out was lost.")
        if problem is None:
            future.set_result(answer)
        else:
            future.set_exception(problem)


def _helper(short_only: bool) -> Any:
    paths = [str(Path(planner.__file__).parents[1]), os.environ.get("PYTHONPATH", "")]
    return subprocess.Popen(
        [sys.executable, "-m", "planner.ui.outside", "0" if short_only else str(_NICE)], stdin=subprocess.PIPE,
        stdout=subprocess.PIPE, env={**os.environ, **ONE_THREAD, "PYTHONPATH": os.pathsep.join(filter(None, paths))})


def _serve(nice: int) -> None:
    """Answer questions from the standard input until it is closed; what is printed goes to the standard error."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the app, whose end closes the input
    if hasattr(os, "nice"):
        os.nice(nice)
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
    _serve(int(sys.argv[1]))
