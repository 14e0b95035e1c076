"""Seeded mutations of good files and words, and every reader, file and option they are tried on.

What counts as failed: anything but an answer or one line of `PlannerError`.
"""

import contextlib
import io
import random
import re
import warnings
from collections.abc import Callable, Iterator
from pathlib import Path

from planner.cli import run
from planner.errors import PlannerError
from planner.files.equipment import load_equipment
from planner.files.equipment.horizon import read_horizon
from planner.files.frames.load import read_frame
from planner.files.logs import read_drift_log, read_pointing, read_positions
from planner.files.own_files import packaged_data
from planner.files.pier import load_pier
from planner.files.projects import load_projects
from planner.files.reading import InMemory
from planner.files.sky_position import parse_position
from planner.files.targets import find_target
from planner.files.targets.lists import read_target_list

READERS: dict[str, tuple[str, Callable]] = {
    "equipment": ("equipment.toml", load_equipment), "starter": ("starter.toml", load_equipment),
    "projects": ("projects.toml", load_projects), "pier": ("pier.toml", load_pier),
    "drift log": ("drift_demo.csv", read_drift_log), "pointing": ("pointing_demo.csv", read_pointing),
    "positions": ("polar_demo.csv", read_positions), "targets": ("targets.csv", read_target_list),
    "horizon": ("horizon_hill.csv", read_horizon), "frame": ("frame_demo.fits", read_frame),
}
# A file through its command; FILE stands for the path.
COMMANDS: dict[str, tuple[str, list[str]]] = {
    "gear": ("equipment.toml", ["gear", "--equipment", "FILE"]),
    "check": ("starter.toml", ["gear", "--check", "--equipment", "FILE"]),
    "done": ("projects.toml", ["done", "--project", "FILE"]),
    "balance": ("pier.toml", ["pier", "balance", "--pier", "FILE"]),
    "power": ("pier.toml", ["pier", "power", "--pier", "FILE"]),
    "column": ("pier.toml", ["pier", "column", "--pier", "FILE"]),
    "drift": ("drift_demo.csv", ["drift", "FILE"]), "pointing": ("pointing_demo.csv", ["pointing", "FILE"]),
    "polar": ("polar_demo.csv", ["polar", "FILE"]), "frame": ("frame_demo.fits", ["frame", "FILE"]),
}
# Options whose value is mutated; VALUE stands for it.
OPTIONS: list[tuple[list[str], list[str]]] = [
    (["advise", "M31", "--night", "VALUE"], ["2026-11-28"]),
    (["advise", "M31", "--night", "2026-11-28", "--lowest-altitude", "VALUE"], ["30 deg", "30"]),
    (["advise", "M31", "--night", "2026-11-28", "--brightness", "VALUE"], ["24 mag/arcsec2"]),
    (["advise", "M31", "--night", "2026-11-28", "--line", "VALUE"], ["20 R"]),
    (["advise", "M31", "--night", "2026-11-28", "--signal-to-noise", "VALUE"], ["10"]),
    (["advise", "VALUE", "--night", "2026-11-28"],
     ["NGC 7331", "22 37 04 +34 24 57", "339.267 34.416", "Orion Nebula"]),
    (["advise", "M31", "--rig", "VALUE"], ["nebulae"]), (["advise", "M31", "--site", "VALUE"], ["hill"]),
    (["advise", "M31", "--filter", "VALUE"], ["L"]), (["season", "VALUE", "--nights", "2"], ["M31"]),
    (["season", "M31", "--nights", "VALUE"], ["3"]), (["objects", "--month", "VALUE"], ["2026-11"]),
    (["done", "M31", "--filter", "L", "--hours", "VALUE"], ["2.5 h"]),
    (["match", "M31", "--seeing", "VALUE"], ["2 arcsec"]), (["VALUE"], ["night"]), (["gear", "VALUE"], ["--check"]),
    (["match", "M31", "--size", "VALUE"], ["3x2 deg", "190′ × 60′"]), (["match", "M31", "--binning", "VALUE"], ["1,2"]),
    (["match", "M31", "--overlap", "VALUE"], ["0.15"]), (["match", "M31", "--star", "VALUE"], ["18 mag"]),
    (["advise", "M31", "--set", "VALUE"], ["site.seeing=1.8arcsec", "mount.periodic=6", "camera.gain=0.5 ± 0.1"]),
    (["done", "M31", "--filter", "L", "--subs", "9", "--sub-exposure", "VALUE"], ["180 s", "3 min"]),
    (["done", "M31", "--filter", "L", "--hours", "1 h", "--start", "VALUE"], ["21:30"]),
    (["done", "M31", "--filter", "L", "--hours", "1 h", "--id", "VALUE"], ["word"]),
    (["night", "NGC55", "--night", "2026-11-28", "--moon-distance", "VALUE"], ["L=60,R=45"]),
    (["night", "NGC55", "--night", "2026-11-28", "--calibration", "VALUE"], ["flats=20,bias=50"]),
    (["night", "NGC55", "--night", "2026-11-28", "--until", "VALUE"], ["01:00"]),
    (["drift", "DATA/drift_demo.csv", "--worm", "VALUE"], ["480 s", "180"]),
    (["drift", "DATA/drift_demo.csv", "--latitude", "VALUE"], ["47.4 deg", "47°24′"]),
    (["polar", "DATA/polar_demo.csv", "--altitude-screw", "VALUE"], ["1.5 mm, 180 mm"]),
    (["polar", "--run", "VALUE", "--run", "-80,5,8,1"], ["-10, 5, 8, 1.2"]),
    (["pointing", "DATA/pointing_demo.csv", "--terms", "VALUE"], ["collimation,tube_flexure"]),
    (["pier", "power", "--temperature", "VALUE"], ["-5 deg_C"]), (["pier", "power", "--humidity", "VALUE"], ["0.8"]),
    (["pier", "balance", "--add", "x", "--mass", "VALUE"], ["1.1 kg"]), (["schema", "VALUE"], ["advise"]),
    (["init", "VALUE", "--file", "/dev/null"], ["pier"]), (["help", "VALUE"], ["night"]),
    (["completion", "VALUE"], ["zsh"]),
]
NASTY = ["", "0", "-1", "1e308", "-1e308", "1e-308", "nan", "inf", "-inf", "²", "٣", "½", "1,5", "1_000", "9" * 400,
         "x" * 5000, "\x00", "\x1b[31m", "\u202e", "−5", "=1+1", "![x](http://x)", "'", '"', "[[", "]]", "{", "#",
         "\n", "\t", ";", "true", "1 parsec", "99999999999", "--", "-", "/", "/dev/null", "~", "%s", "{0}", "NGC",
         "€", "\ud800"]


def mutated(data: bytes, dice: random.Random) -> bytes:
    """Return the bytes of a file with one to four things wrong."""
    for _ in range(dice.randint(1, 4)):
        way, place = dice.randrange(8), dice.randrange(len(data) + 1)
        nasty = dice.choice(NASTY).encode("utf-8", "surrogatepass")
        if way == 0:  # one bit
            data = data[:place] + bytes([dice.randrange(256)]) + data[place + 1:]
        elif way == 1:  # cut short
            data = data[:place]
        elif way == 2:  # something in between
            data = data[:place] + nasty + data[place:]
        elif way == 3:  # a piece twice
            data = data[:place] + data[max(0, place - dice.randrange(200)):]
        elif way == 4:  # a piece gone
            data = data[:place] + data[place + dice.randrange(100):]
        else:  # another value where a number stands
            numbers = list(re.finditer(rb"[0-9][0-9.e+-]*", data[:20000]))
            if numbers:
                found = dice.choice(numbers)
                data = data[:found.start()] + nasty + data[found.end():]
    return data


def mutated_word(word: str, dice: random.Random) -> str:
    """Return a word of the command line with something wrong."""
    nasty, place = dice.choice(NASTY), dice.randrange(len(word) + 1)
    return dice.choice([nasty, word[:place] + nasty + word[place:], word[:place], word[place:], word + word,
                        re.sub(r"[0-9.]+", lambda _: nasty, word)]).replace("\x00", "")


def try_reader(name: str, dice: random.Random, folder: Path) -> str | None:
    """Read one mutated file; return what went wrong, None if nothing did."""
    source, reader = READERS[name]
    data = mutated(packaged_data(source).read_bytes(), dice)
    path = folder / source
    path.write_bytes(data)
    given = InMemory(source, data) if name == "frame" and dice.random() < 0.5 else path
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            reader(given)
    except PlannerError as error:
        return None if "\n" not in str(error) and len(str(error)) < 3000 else f"a long or broken line: {error!r:.200}"
    except Exception as error:
        return f"{name}: {type(error).__name__}: {error!s:.200}"
    return None


def try_command(name: str, dice: random.Random, folder: Path) -> str | None:
    """Give one mutated file to its command; return what went wrong, None if nothing did."""
    source, words = COMMANDS[name]
    path = folder / source
    path.write_bytes(mutated(packaged_data(source).read_bytes(), dice))
    return outcome([str(path) if word == "FILE" else word for word in words] + dice.choice([[], ["--json"]]))


def try_option(dice: random.Random) -> str | None:
    """Give one mutated word to a command; return what went wrong, None if nothing did."""
    words, good = dice.choice(OPTIONS)
    value = mutated_word(dice.choice(good), dice)
    data = str(packaged_data("targets.csv").parent)
    return outcome([value if word == "VALUE" else word.replace("DATA", data) for word in words]
                   + dice.choice([[], ["--json"]]))


def try_text(dice: random.Random) -> str | None:
    """Read one mutated position and name."""
    text = mutated_word(dice.choice(["22 37 04 +34 24 57", "339.267d 34.416d", "NGC 7331", "Horsehead Nebula"]), dice)
    for reader in (parse_position, find_target):
        try:
            reader(text)
        except PlannerError:
            pass
        except Exception as error:
            return f"{reader.__name__}({text!r:.100}): {type(error).__name__}: {error!s:.100}"
    return None


def outcome(words: list[str]) -> str | None:
    """Run a command; return what went wrong: a code that is neither 0 nor 2, or more than a line of error."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err), warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            code = run([*words, "--quiet"])
        except BaseException as error:
            return f"{words!r:.300}: {type(error).__name__}: {error!s:.200}"
    lines = err.getvalue().splitlines()
    if code == 0 or (code == 2 and (len(lines) == 1 or "--check" in words)):
        return None
    return f"{words!r:.300}: code {code}, {len(lines)} lines: {err.getvalue()[:300]}"


def attempts(seed: int, count: int, folder: Path) -> Iterator[str | None]:
    """Yield the outcome of each of `count` attempts, every reader, command and option in turn."""
    dice = random.Random(seed)
    kinds: list[Callable[[], str | None]] = [
        *(lambda name=name: try_reader(name, dice, folder) for name in READERS), lambda: try_text(dice),
        *(lambda name=name: try_command(name, dice, folder) for name in COMMANDS), *[lambda: try_option(dice)] * 5]
    for number in range(count):
        yield kinds[number % len(kinds)]()
