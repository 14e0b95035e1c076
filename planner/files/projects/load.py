"""The project file: hours wanted and done per target and filter, plain TOML that a person can read and edit.

    [[project]]
    target = "NGC 7331"                # as the catalogue or your target list names it
    priority = 2                       # optional: worth of its hours beside others, 1 if absent
    completion = 1                     # optional: worth of having all of it, beside all of its hours, 0.3 if absent
    mosaic = true                      # optional: as many panels as the rig's field takes, each to have these hours
    wanted = {L = "8 h", R = "2 h"}    # per filter, in equivalent hours: those that a plan counts
    done = [
        {night = 2026-10-12, filter = "L", subs = 40, sub_exposure = "180 s", counted = "1.6 h"},
        {night = 2026-10-13, filter = "L", time = "1.5 h"},
    ]

A night is its evening's local date, with the open-shutter time of kept frames, as `time` or as `subs` times
`sub_exposure`. `counted` is what they count for in equivalent hours, less than their time under the Moon or low in the
sky; where it is not given, all of the time counts. `panel` is that of a mosaic; hours without one are shared by all of
its panels. `id` is a word of your own: a record with the same one takes the place of this one, so that a script may
record twice. A damaged file is refused with the line named, and never written.
"""

import datetime
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from astropy import units as u

from planner.checks import Rule, did_you_mean, given
from planner.errors import InvalidInputError
from planner.files.equipment.tables import rules_of
from planner.files.own_files import own_path, packaged_data, path_in_use, toml_document
from planner.files.quantities import written_value
from planner.files.reading import read_text
from planner.session.projects.project import DoneNight, Project
from planner.session.projects.request import COMPLETION

WHAT = "project file"
KEYS = ("target", "priority", "completion", "mosaic", "wanted", "done")
DONE_KEYS = ("night", "filter", "time", "subs", "sub_exposure", "counted", "panel", "id")
HOURS = Rule(unit=u.h, kind="quantity", more_than=0, at_most=10000, remedy='Write it like "8 h".')
NIGHT_HOURS = Rule(unit=u.h, kind="quantity", more_than=0, at_most=24, remedy='Write it like "1.5 h", at most 24 h.')
ID = Rule(kind="text", optional=True, remedy='Write it like id = "2026-10-12 L".')
COUNTED = Rule(unit=u.h, kind="quantity", at_least=0, at_most=24, remedy='Write it like "1.2 h", at most 24 h.')
LENGTH = Rule(unit=u.s, kind="quantity", more_than=0, at_most=7200, remedy='Write it like "180 s".')
SUBS = Rule(kind="whole", more_than=0, at_most=100000, remedy="Count the kept frames.")
PANEL = Rule(kind="whole", optional=True, at_least=1, at_most=100, remedy="Write it like panel = 2.")
MOSAIC = Rule(kind="truth", remedy="Write mosaic = true.")


@dataclass(frozen=True)
class ProjectFile:
    """The projects of one file, in its order."""

    path: Path
    projects: tuple[Project, ...]
    is_demo: bool

    def of(self, name: str) -> Project | None:
        """Return the project of a target by name, capitals and blanks aside; None if there is none."""
        wanted = name_key(project_and_panel(name)[0])
        return next((project for project in self.projects if name_key(project.target) == wanted), None)


def name_key(name: str) -> str:
    """Return a target's name for comparing: ``NGC 7331`` and ``ngc7331`` are one."""
    return re.sub(r"\s+", "", name).lower()


def project_and_panel(name: str) -> tuple[str, int | None]:
    """Return the target and the panel that a name like ``M 31 panel 2`` means; no panel for ``M 31 all panels``."""
    found = re.fullmatch(r"(.+\S)\s+(?:panel\s+(\d+)|all\s+panels)", name.strip(), re.I)
    return (found[1], int(found[2]) if found[2] else None) if found else (name, None)


def user_projects_path() -> Path:
    """Return where the user's own project file lies, there or not: beside their equipment file."""
    return own_path("projects.toml")


def projects_path(path: Path | str | None = None) -> Path:
    """Return the file that `load_projects` reads: the one given, else the user's, else the packaged demo."""
    return path_in_use(path, user_projects_path())


def load_projects(path: Path | str | None = None) -> ProjectFile:
    """Return the projects of the file that `projects_path` names; its first problem is refused by line and rule."""
    used = projects_path(path)
    projects = parse_projects(read_text(used, what=WHAT), file=used.name)
    return ProjectFile(used, projects, used == packaged_data("projects.toml"))


def parse_projects(text: str, *, file: str) -> tuple[Project, ...]:
    """Return the projects written in a text; `file` names it in the error of the first problem."""
    document = toml_document(text, what=WHAT, file=file, remedy="Fix that line; nothing was written.")
    place = _Place(file, text)
    for key in document:
        if key != "project":
            raise place.of_key(key, document[key], "is not a table of the project file",
                               "Start each target with a line [[project]].")
    tables = document.get("project", [])
    if not isinstance(tables, list):
        raise place.of_key("project", "(table)", "must be a list of tables",
                           "Start each target with a line [[project]].")
    found: dict[str, Project] = {}
    for number, table in enumerate(tables, start=1):
        project = _project(place.at(number), table)
        if name_key(project.target) in found:
            raise place.at(number).of_key("target", project.target, "is given twice",
                                          "Keep one [[project]] per target.")
        found[name_key(project.target)] = project
    return tuple(found.values())


@dataclass(frozen=True)
class _Place:
    """Where in the file a value stands, to name its line."""

    file: str
    text: str
    project: int = 0
    key: str = ""
    item: int = 0

    def at(self, project: int, key: str = "", item: int = 0) -> "_Place":
        return _Place(self.file, self.text, project, key, item)

    @property
    def line(self) -> int:
        """The line of the key (of the item in its list), else of the table."""
        lines = self.text.splitlines()
        heads = [number for number, line in enumerate(lines) if re.match(r"\s*\[\[?\s*project\b", line)]
        first = heads[self.project - 1] if 0 < self.project <= len(heads) else 0
        last = heads[self.project] if 0 < self.project < len(heads) else len(lines)
        keyed = re.compile(rf"""[\s\["']*{re.escape(self.key)}["'\]\s]*(=|$)""")
        start = next((number for number in range(first, last) if self.key and keyed.match(lines[number])), first)
        if not self.item:
            return start + 1
        items = [number for number in range(start, last) for _ in re.findall(r"\{", lines[number].split("#")[0])]
        return (items[self.item - 1] if self.item <= len(items) else start) + 1

    def error(self, name: str, value: Any, rule: str, remedy: str = "") -> InvalidInputError:
        """Return the error of a value at this place."""
        return InvalidInputError(f"{self.file}, line {self.line}: {name}", value, rule, remedy)

    def of_key(self, key: str, value: Any, rule: str, remedy: str = "") -> InvalidInputError:
        """Return the error of a key of this project."""
        return self.at(self.project, key).error(key, value, rule, remedy)


def _project(place: _Place, table: Any) -> Project:
    if not isinstance(table, dict):
        raise place.error("project", table, "must be a table", "Start each target with a line [[project]].")
    for key in table:
        if key not in KEYS:
            raise place.of_key(key, table[key], "is not a key of a project", did_you_mean(key, KEYS))
    target, wanted, done = table.get("target"), table.get("wanted", {}), table.get("done", [])
    if not isinstance(target, str) or not target.strip():
        raise place.of_key("target", target, "must be a text of at least one character",
                           'Write it like target = "NGC 7331".')
    if not isinstance(wanted, dict):
        raise place.of_key("wanted", wanted, "must give hours by filter", 'Write it like {L = "8 h"}.')
    if not isinstance(done, list):
        raise place.of_key("done", done, "must be a list of nights",
                           'Write it like [{night = 2026-10-12, filter = "L", time = "2 h"}].')
    rules = {**rules_of(Project), "mosaic": MOSAIC}
    plain = {key: _checked(place.at(place.project, key), key, table.get(key, usual), rules[key])
             for key, usual in (("priority", 1), ("completion", COMPLETION), ("mosaic", False))}
    return Project(
        target=" ".join(target.split()), priority=float(plain["priority"]), completion=float(plain["completion"]),
        mosaic=plain["mosaic"],
        wanted={name: _checked(place.at(place.project, "wanted"), f"wanted.{name}", value, HOURS)
                for name, value in wanted.items()},
        done=tuple(_done(place.at(place.project, "done", item), entry) for item, entry in enumerate(done, start=1)))


def _done(place: _Place, entry: Any) -> DoneNight:
    if not isinstance(entry, dict):
        raise place.error("done", entry, "must be a list of nights in braces",
                          'Write it like {night = 2026-10-12, filter = "L", time = "2 h"}.')
    for key in entry:
        if key not in DONE_KEYS:
            raise place.error(f"done.{key}", entry[key], "is not a key of a night", did_you_mean(key, DONE_KEYS))
    night, band = entry.get("night"), entry.get("filter")
    if not isinstance(night, datetime.date) or isinstance(night, datetime.datetime):
        raise place.error("done.night", night, "must be a date without quotes", "Write it like 2026-10-12.")
    if not isinstance(band, str) or not band.strip():
        raise place.error("done.filter", band, "must be the name of a filter", 'Write it like filter = "L".')
    subs, length, time, counted = (
        _checked(place, f"done.{key}", entry[key], rule) if key in entry else None
        for key, rule in (("subs", SUBS), ("sub_exposure", LENGTH), ("time", NIGHT_HOURS), ("counted", COUNTED)))
    if (time is None) == (subs is None or length is None):
        raise place.error("done", band, "must give either time, or subs and sub_exposure",
                          'Write time = "2 h", or subs = 40, sub_exposure = "180 s".')
    if time is None and length is not None:
        time = _checked(place, "done.time", f"{subs * length.to_value(u.h):.10g} h", NIGHT_HOURS)
    return DoneNight(night=night, filter=band.strip(), time=given(time), subs=subs, sub_exposure=length,
                     counted=counted, panel=_checked(place, "done.panel", entry.get("panel"), PANEL),
                     id=_checked(place, "done.id", entry.get("id"), ID))


def _checked(place: _Place, name: str, value: Any, rule: Rule) -> Any:
    """Return a value checked by its rule, its line named if it breaks it."""
    try:
        return written_value(name, value, rule)
    except InvalidInputError as error:
        raise place.error(name, value, error.rule, error.remedy) from None
