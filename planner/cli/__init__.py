"""The command `planner`: words in, one core call, an answer out.

Each command lives in a module of its own, named here with its line of help and imported only when it is called;
the module holds ``app``, a `typer.Typer`. Exit codes: 0 an answer, 2 bad input with one line on stderr.
"""

import importlib
import os
import sys
import warnings
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from planner.errors import PlannerError


class Entry(NamedTuple):
    """A command: the module that holds it and its line of help."""

    module: str
    help: str


COMMANDS: Mapping[str, Entry] = {
    "init": Entry("planner.cli.init", "Write a commented equipment file to start from."),
    "gear": Entry("planner.cli.gear", "List your equipment with its derived figures, or check the file."),
    "match": Entry("planner.cli.match", "Which camera on which telescope, reducer and binning, for a target."),
    "advise": Entry("planner.cli.advise", "Guide or not, and how long a sub-exposure, for a target on a night."),
    "season": Entry("planner.cli.season", "Useful hours of targets over the year, best weeks, nights still needed."),
    "suits": Entry("planner.cli.suits", "What of the whole catalogue suits a rig on a night or in a month."),
    "done": Entry("planner.cli.done", "Record a night's frames in the project file, or show what is left to do."),
    "night": Entry("planner.cli.night", "Which targets tonight, in which order and filter, and when to flip."),
    "pier": Entry("planner.cli.pier", "Does it balance, does 12 V arrive, does the column stand still."),
    "frame": Entry("planner.cli.frame", "Measure the stars of test frames: width, elongation, trail, grade."),
    "drift": Entry("planner.cli.drift", "Drift, periodic error, wander and jitter from the log of an unguided star."),
    "polar": Entry("planner.cli.polar", "How far the polar axis is off, what to turn, and whether it matters."),
    "pointing": Entry("planner.cli.pointing", "Fit the pointing model and say what it tells of the mount."),
    "app": Entry("planner.cli.app", "Start the pages in a browser, on this machine only."),
    "sources": Entry("planner.cli.sources", "List the catalogues, their licences, and the papers behind the formulas."),
}

BAD_INPUT = 2
OWN_FAULT = 1
INTERRUPTED = 130  # 128 + SIGINT, as shells have it


def main() -> None:
    """Run the command line and leave with its exit code.

    Linear algebra keeps to one thread unless the user says otherwise: our matrices are small, and waking threads for
    them takes longer than the products (a night plan 1.9 s -> 1.2 s on two cores).
    """
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    sys.exit(run(sys.argv[1:]))


def run(arguments: Sequence[str]) -> int:
    """Run one command and return its exit code.

    Parameters
    ----------
    arguments : sequence of str
        The words after ``planner``.
    """
    # A settings folder that is not there yet is no news to an observer; astropy would tell it at every start.
    warnings.filterwarnings("ignore", message="XDG_(CONFIG|CACHE)_HOME is set")
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")  # a terminal without ″ shows ? instead of failing
    try:
        code = _dispatch(list(arguments))
        sys.stdout.flush()
        return code
    except PlannerError as error:
        return _refuse(str(error))
    except KeyboardInterrupt:
        print(file=sys.stderr)
        return INTERRUPTED
    except BrokenPipeError:  # the reader of our output has left, as `head` does
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except Exception as error:
        if os.environ.get("PLANNER_DEBUG"):
            raise
        print(f"planner: a fault of the program itself ({type(error).__name__}: {' '.join(str(error).split())}). "
              "Set PLANNER_DEBUG=1 to see where, and please report it.", file=sys.stderr)
        return OWN_FAULT


def _dispatch(arguments: list[str]) -> int:
    if not arguments or arguments[0] in ("--help", "-h", "help"):
        print(help_text())
        return 0
    if arguments[0] == "--version":
        from planner import __version__

        print(f"planner {__version__}")
        return 0
    name = arguments.pop(0)
    if name not in COMMANDS:
        from planner.checks import did_you_mean

        line = "is not an option" if name.startswith("-") else "is not a command"
        return _refuse(f"planner {name}: {line}. {did_you_mean(name, COMMANDS)}")
    return _run_command(name, arguments)


def _run_command(name: str, arguments: list[str]) -> int:
    """Import the command's module and run it; its usage errors become one line."""
    import typer
    from typer.main import get_command

    # ClickException is the root of typer's own errors; typer exports only this descendant of it.
    usage_error: Any = typer.BadParameter.__mro__[1]
    command = get_command(importlib.import_module(COMMANDS[name].module).app)
    try:
        with command.make_context(f"planner {name}", arguments) as context:
            command.invoke(context)
    except typer.Exit as leaving:
        return leaving.exit_code
    except usage_error.__mro__[1] as error:
        line = " ".join(error.format_message().split()).rstrip(".")
        return _refuse(f'{line}. See "planner {name} --help".')
    except typer.Abort:
        return INTERRUPTED
    return 0


def _refuse(line: str) -> int:
    """Print one line on stderr and return the exit code of bad input."""
    print(" ".join(line.split()), file=sys.stderr)
    return BAD_INPUT


def help_text() -> str:
    """Return the list of commands."""
    width = max(len(name) for name in COMMANDS)
    lines = [f"  {name:<{width}}  {entry.help}" for name, entry in COMMANDS.items()]
    return "\n".join([
        "Usage: planner COMMAND [OPTIONS] [WORDS]", "",
        "From a rig and a target to a verdict: guide or not, how long a sub-exposure, which targets tonight.", "",
        "Commands:", *lines, "",
        'Each command explains itself: "planner gear --help". Without an equipment file of your own, a packaged',
        'demo stands in; "planner init" writes a file to start from. "planner --version" tells the version.',
    ])
