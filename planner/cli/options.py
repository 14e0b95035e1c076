"""Options that several commands share, and what is done with them."""

import datetime
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer

from planner.cli.output import note
from planner.errors import InvalidInputError
from planner.files.equipment import load_equipment
from planner.files.equipment.start import all_examples
from planner.rig import Equipment, Rig, Site, clock_problem
from planner.rig.equipment import find_by_name

EquipmentOption = Annotated[
    Path | None, typer.Option("--equipment", metavar="FILE", help="Equipment file, instead of your own or the demo.")
]
RigOption = Annotated[str | None, typer.Option("--rig", metavar="NAME", help="Rig; the first one if not given.")]
BesideOption = Annotated[list[str] | None, typer.Option(
    "--beside", metavar="RIG", help="Another rig at the site at the same time, on its own mount, that shares the "
    "targets; may be given again.")]
SiteOption = Annotated[str | None, typer.Option("--site", metavar="NAME", help="Site; the first one if not given.")]
NightOption = Annotated[
    str | None, typer.Option("--night", metavar="YYYY-MM-DD", help="Night, by its evening's date; else tonight.")
]
TargetsOption = Annotated[
    Path | None, typer.Option("--targets", metavar="FILE", help="Your list of targets: CSV with name, ra, dec.")
]
ProjectOption = Annotated[
    Path | None, typer.Option("--project", metavar="FILE", help="Project file, instead of your own or the demo.")
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print one JSON object; keys end in their unit.")]

LONGEST_PREFIX = len("collinder")
DEMO_NOTE = 'Using the packaged demo equipment; "planner init" writes a file for your own.'


def new_app() -> typer.Typer:
    """Return the holder of a command: no completion script, plain text in help, errors left to `planner.cli`."""
    return typer.Typer(add_completion=False, rich_markup_mode=None, pretty_exceptions_enable=False)


def open_equipment(path: Path | None) -> Equipment:
    """Return the equipment; a note on stderr says when it is the packaged demo, or still an example."""
    equipment = load_equipment(path)
    if equipment.is_demo:
        note(DEMO_NOTE)
    elif left := all_examples(path):
        note(f'Still the starting file\'s examples: {", ".join(left)}; "planner gear --check" names each figure. '
             "Are they yours, give them a name of your own.")
    return equipment


def chosen(path: Path | None, rig: str | None, site: str | None, night: str | None) -> tuple[Rig, Site, datetime.date]:
    """Return rig, site and night that a command is about."""
    gear = open_equipment(path)
    place = gear.site(site)
    return gear.rig(rig), place, night_date(night, place)


def rigs_at_once(path: Path | None, first: Rig, beside: list[str] | None) -> list[Rig]:
    """Return the rig chosen and those beside it."""
    rigs = load_equipment(path).rigs
    return [first, *(find_by_name("--beside", rigs, name).as_read() for name in beside or ())]


def night_date(text: str | None, site: Site, *, now: datetime.datetime | None = None) -> datetime.date:
    """Return the local date of the evening on which a night begins.

    `text`: ``YYYY-MM-DD``; None for tonight: the night now running, from sunrise on the coming one. `site`: gives the
    time zone. `now`: the present, with a time zone; the clock's if not given.
    Raises InvalidInputError if the text is no date, or one outside 1973 to 2098.
    """
    from planner.visibility.clock import as_date
    from planner.visibility.darkness import night_to_plan

    if text is None:
        now = now or datetime.datetime.now(datetime.UTC)
        problem = clock_problem(site, now)
        if problem:
            note(problem)
        return night_to_plan(now, site)
    return as_date(text)


def joined_names(words: Sequence[str]) -> list[str]:
    """Return the targets that words name: each word one, but a name or a place in several words is one too.

    ``NGC 7331`` (letters before a number), coordinates, and a common name like ``Horsehead Nebula`` alone.
    """
    if len(words) > 1 and _is_one(words):
        return [" ".join(words)]
    names: list[str] = []
    for word in words:
        lonely = names and names[-1].isalpha() and len(names[-1]) <= LONGEST_PREFIX
        if lonely and word[:1].isdigit():
            names[-1] = f"{names[-1]} {word}"
        else:
            names.append(word)
    return names


def _is_one(words: Sequence[str]) -> bool:
    """Say whether several words are one place, one set of elements or one common name."""
    text = " ".join(words)
    from planner.files.forms.orbits import is_typed_orbit
    from planner.files.sky_position import looks_like_position
    from planner.files.targets import find_target

    if looks_like_position(text) or (is_typed_orbit(text) and not any(map(is_typed_orbit, words))):
        return True
    if any(letter.isdigit() for letter in text):
        return False
    try:
        find_target(text)
    except InvalidInputError:
        return False
    return True
