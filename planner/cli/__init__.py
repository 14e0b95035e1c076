"""The command `planner`: words in, one core call, an answer out.

Each command lives in a module of its own, named here with its line of help and imported only when it is called;
the module holds ``app``, a `typer.Typer`. Exit codes: 0 an answer, 2 bad input with one line on stderr.
"""

import gc
import importlib
import os
import re
import sys
import textwrap
import warnings
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from planner import cores
from planner.errors import BAD_INPUT, InvalidInputError, PlannerError, UsageError


class Command(NamedTuple):
    """A command: the module of this room that holds it and its line of help."""

    module: str
    help: str


COMMANDS: Mapping[str, Command] = {
    "init": Command("equipment.init", "Write a commented file to start from: equipment, pier, projects or targets."),
    "gear": Command("equipment.gear", "List your equipment with its derived figures, or check the file."),
    "match": Command("decide.match", "Which camera on which telescope, reducer and binning, for a target."),
    "advise": Command("decide.advise", "Guide or not, and how long a sub-exposure, for a target on a night."),
    "first-light": Command("measure.first_light", "What to measure, in which order, until the verdict stands."),
    "season": Command("night.season", "Useful hours of targets over the year, best weeks, nights still needed."),
    "objects": Command("decide.objects", "Which objects of the catalogue fit a rig, on a night or in a month."),
    "done": Command("night.done", "Record a night's frames in the project file, or show what is left to do."),
    "night": Command("night.night", "Which targets tonight, in which order and filter, and when to flip."),
    "campaign": Command("night.campaign",
                        "Deal out the coming months among all projects, with the odds of each."),
    "pier": Command("pier.pier", "Does it balance, does 12 V arrive, does the column stand still."),
    "frame": Command("measure.frame", "Measure the stars of test frames: width, elongation, trail, grade."),
    "drift": Command("measure.drift", "Drift, periodic error, wander and jitter from the log of an unguided star."),
    "polar": Command("measure.polar", "How far the polar axis is off, what to turn, and whether it matters."),
    "pointing": Command("measure.pointing", "Fit the pointing model and say what it tells of the mount."),
    "app": Command("app", "Start the pages in a browser, on this machine only."),
    "completion": Command("completion", "Print a script that completes commands in your shell."),
    "schema": Command("schema", "Print the JSON Schema of what --json prints."),
    "sources": Command("sources",
                       "List the catalogues, their licences, and the papers behind the formulas."),
}

RENAMED: Mapping[str, str] = {"suits": "objects"}
OWN_FAULT = 1
QUIET = ("--quiet", "-q")
# What typer says of a number, and what we say; the limit is the last number of its sentence.
NUMBER_RULES = (("valid integer", "a whole number"), ("valid number", "a number"),
                ("greater than or equal to", "at least {}"), ("less than or equal to", "at most {}"))
NEGATIVE = re.compile(r"-[0-9.][0-9.,: dhms°′″'\"]*")
DECIMAL_COMMA = re.compile(r"[+-]?[0-9]+,[0-9]+")
INTERRUPTED = 130  # 128 + SIGINT, as shells have it


def main() -> None:
    """Run the command line and leave with its exit code.

    Linear algebra keeps to one thread unless the user says otherwise: our matrices are small, and waking threads for
    them takes longer than the products (a night plan 1.9 s -> 1.2 s on two cores). Garbage in cycles is looked for
    rarely: loading the libraries makes next to none.
    """
    gc.set_threshold(50_000, 20)
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    cores.use()
    sys.exit(run(sys.argv[1:]))


def run(arguments: Sequence[str]) -> int:
    """Run one command and return its exit code.

    `arguments`: the words after ``planner``.
    """
    from planner.cli import output
    from planner.cli.streams import guard

    # A settings folder that is not there yet is no news to an observer; astropy would tell it at every start.
    warnings.filterwarnings("ignore", message="XDG_(CONFIG|CACHE)_HOME is set")
    words = list(arguments)
    output.quiet = _take(words, QUIET)
    before = guard()
    try:
        return _answered(words)
    finally:
        sys.stdout, sys.stderr = before


def _answered(words: list[str]) -> int:
    """Run one command; whatever goes wrong is one line and an exit code."""
    from planner.cli.streams import OutputClosed, silence, tell_notes, waiting

    waiting.clear()
    try:
        code = _dispatch(list(words))
        tell_notes()
        sys.stdout.flush()
        return code
    except OutputClosed:
        silence(sys.stdout)
        return 0
    except PlannerError as error:
        return _refuse(error, words)
    except KeyboardInterrupt:
        print(file=sys.stderr)
        return INTERRUPTED
    except Exception as error:
        if isinstance(error, FileNotFoundError) and _is_folder_gone():
            return _refuse(InvalidInputError("working folder", "(deleted)", "is not there any more",
                                             "Change to another folder."), words)
        if os.environ.get("PLANNER_DEBUG"):
            raise
        said = " ".join(str(error).split())
        _tell(PlannerError(f"planner: a fault of the program itself ({type(error).__name__}: {said}). "
                           "Set PLANNER_DEBUG=1 to see where, and please report it."), words)
        return OWN_FAULT


def _is_folder_gone() -> bool:
    """Return whether the folder that we were started in has been deleted."""
    try:
        os.getcwd()
    except OSError:
        return True
    return False


def _take(words: list[str], options: Sequence[str]) -> bool:
    """Take an option that every command has out of the words before a ``--``, and return whether it was there."""
    end = words.index("--") if "--" in words else len(words)
    kept = [word for word in words[:end] if word not in options]
    taken = len(kept) < end
    words[:end] = kept
    return taken


def _dispatch(arguments: list[str]) -> int:
    if len(arguments) > 1 and arguments[0] == "help":
        arguments = [*arguments[1:], "--help"]
    if not arguments or arguments[0] in ("--help", "-h", "help"):
        print(help_text())
        return 0
    if arguments[0] == "--version":
        from planner import __version__

        print(f"planner {__version__}")
        return 0
    name = arguments.pop(0)
    if name in COMMANDS:
        return _run_command(name, arguments)
    raise UsageError(f"planner {name}: {_not_a_command(name)}")


def _not_a_command(name: str) -> str:
    """Say what is wrong with a word that is no command."""
    from planner.checks import did_you_mean, nearest_names

    if name in RENAMED:
        return f'is now called "planner {RENAMED[name]}".'
    if name.startswith("-"):
        return 'is not an option. See "planner --help".'
    near = f"{did_you_mean(name, COMMANDS)} " if nearest_names(name, COMMANDS) else ""
    return f"is not a command. {near}The commands are {', '.join(COMMANDS)}."


def _run_command(name: str, arguments: list[str]) -> int:
    """Import the command's module and run it; its usage errors become one line."""
    import typer

    from planner.cli import output

    # ClickException is the root of typer's own errors; typer exports only this descendant of it.
    usage_error: Any = typer.BadParameter.__mro__[1]
    command = command_named(name)
    try:
        with command.make_context(f"planner {name}", with_negative_numbers(command, arguments)) as context:
            output.running = context
            command.invoke(context)
    except typer.Exit as leaving:
        return leaving.exit_code
    except typer.BadParameter as error:
        raise _wrong_number(error, arguments) from None
    except usage_error.__mro__[1] as error:
        line = " ".join(error.format_message().split()).rstrip(".")
        where = getattr(error, "ctx", None)
        if line.startswith("No such command"):
            line = f"{line}. The commands are {', '.join(command.commands)}"
        raise UsageError(f'{line}. See "{where.command_path if where else f"planner {name}"} --help".') from None
    except typer.Abort:
        return INTERRUPTED
    return 0


def command_named(name: str) -> Any:
    """Import a command's module and return what runs it."""
    from typer.main import get_command

    from planner.cli.typed import convert_on_demand

    command = get_command(importlib.import_module(f"planner.cli.{COMMANDS[name].module}").app)
    convert_on_demand(command)
    return command


def _wrong_number(error: Any, words: list[str]) -> PlannerError:
    """Return what is wrong with the value of an option that is a number, in the form of every other error."""
    message = " ".join(error.format_message().split()).rstrip(".")
    option = error.param.opts[0] if error.param is not None else ""
    value = next((after if word == option else word.partition("=")[2]
                  for word, after in zip(words, [*words, ""][1:], strict=True)
                  if word == option or word.startswith(f"{option}=")), "")
    rule = next((ours for theirs, ours in NUMBER_RULES if theirs in message), None)
    see = f'See "{error.ctx.command_path} --help".'
    if not value or rule is None:
        return UsageError(f"{message}. {see}")
    limit = re.findall(r"[-\d.]+", message)
    if DECIMAL_COMMA.fullmatch(value):
        see = f'Write a decimal point: "{value.replace(",", ".")}".'
    return InvalidInputError(option, value, f"must be {rule}".format(*limit[-1:]), see)


def with_negative_numbers(command: Any, words: list[str]) -> list[str]:
    """Return the words with a true minus before each number that is no option's value: ``-34`` is a declination."""
    valued = {option for parameter in command.params if not getattr(parameter, "is_flag", True)
              for option in parameter.opts}
    end = words.index("--") if "--" in words else len(words)
    return [f"−{word[1:]}" if place < end and NEGATIVE.fullmatch(word) and (not place or words[place - 1] not in valued)
            else word for place, word in enumerate(words)]


def _refuse(error: PlannerError, words: Sequence[str]) -> int:
    """Tell what is wrong and return the exit code of bad input."""
    if isinstance(error, InvalidInputError):  # what was typed as an option is called by it
        option = f"--{error.name.replace('_', '-')}"
        if any(word.partition("=")[0] == option for word in words):
            error = InvalidInputError(option, error.value, error.rule, error.remedy)
    _tell(error, words)
    return BAD_INPUT


def _tell(error: PlannerError, words: Sequence[str]) -> None:
    """Print what is wrong on stderr, one line of words or of JSON."""
    line = " ".join(str(error).split())
    if "--json" in words:
        from planner.files.json_text import error_line

        line = error_line(error)
    print(line, file=sys.stderr)


def help_text() -> str:
    """Return the list of commands, as wide as the terminal."""
    from planner.cli.output import width

    name_width = max(len(name) for name in COMMANDS)
    lines = [
        "Usage: planner COMMAND [OPTIONS] [WORDS]", "",
        "From a rig and a target to a verdict: guide or not, how long a sub-exposure, which targets tonight.", "",
        "Commands:", *(f"  {name:<{name_width}}  {entry.help}" for name, entry in COMMANDS.items()), "",
        'Each command explains itself: "planner help gear". Without an equipment file of your own, a packaged demo '
        'stands in; "planner init" writes a file to start from. Every command takes --quiet: no notes beside the '
        'answer. A file named - is standard input. PLANNER_FOLDER names a folder for all files of your own, in place '
        'of the settings folder. "planner --version" tells the version.',
    ]
    return "\n".join(textwrap.fill(line, width(), subsequent_indent=" " * (name_width + 4) if line[:1] == " " else "")
                     for line in lines)
