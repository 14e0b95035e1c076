"""Recording a night in the project file: comments and order stay, the version before is kept as ``.bak``."""

import datetime
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from astropy import units as u

from planner.checks import check, did_you_mean
from planner.errors import InvalidInputError
from planner.files.own_files import packaged_data
from planner.files.projects import user_projects_path
from planner.files.projects.load import HOURS, WHAT, name_key, parse_projects
from planner.files.reading import is_there, read_text
from planner.files.toml_tables import before_notes, toml_value
from planner.files.writing import not_standard_input, rewrite
from planner.session.projects.project import DoneNight

HEAD = """\
# Projects: hours wanted and done per target and filter. Edit freely; "planner done" adds nights.
# wanted is in equivalent hours per filter, those that a plan counts: an hour under the Moon or low in the sky is less.
# A night in done is its evening's local date, with the open-shutter time of the frames that were kept: as
# time = "2 h", or as subs = 40, sub_exposure = "180 s"; and what they counted for, all of it if not given.
"""


def record_night(path: Path | str | None, target: str, done: DoneNight, *, wanted: u.Quantity[u.h] | None = None,
                 replace: bool = False) -> Path:
    """Add a night to a target's project and return the file's path; a record with the same id gives way to it.

    `path`: the file; None for the user's own. One that is not there is begun, if `wanted` is given. `target`: as the
    file names it; a target that it does not name is added, if `wanted` is given. `wanted`: sets the hours wanted in
    this filter. `replace`: whether it takes the place of all records of that night in that filter.
    Raises InvalidInputError if the file is the packaged demo, is damaged, or does not name the target. It then stands
    as it was.
    """
    used = _own(path)
    if wanted is None and not is_there(used):
        raise InvalidInputError(WHAT, used, f"is not there, so it holds no project of {target}",
                                'Begin it with --wanted "8 h": the hours you want in this filter.')
    if is_there(used) and not used.is_file():
        read_text(used, what=WHAT)  # raises with the reason
    rewrite(used, lambda text: _edited(text, used.name, target, done, wanted, replace), what=WHAT, start=HEAD)
    return used


def undo_night(path: Path | str | None, target: str, *, night: datetime.date | None = None, band: str | None = None,
               id: str | None = None, panel: int | None = None) -> tuple[Path, DoneNight]:
    """Take the last record of a target out that fits what is given, and return the file's path and the record.

    Raises InvalidInputError if there is none, and as for `record_night`.
    """
    used = _own(path)
    taken: list[DoneNight] = []

    def edit(text: str) -> str:
        import tomlkit

        project = next((item for item in parse_projects(text, file=used.name)
                        if name_key(item.target) == name_key(target)), None)
        fitting = [place for place, item in enumerate(project.done if project else ())
                   if night in (None, item.night) and id in (None, item.id) and panel in (None, item.panel)
                   and (band is None or item.filter.lower() == band.strip().lower())]
        if project is None or not fitting:
            raise InvalidInputError(f"{used.name}: target", target, "has no such record", 'See "planner done".')
        taken.append(project.done[fitting[-1]])
        document = tomlkit.parse(text)
        del _table(document, target)["done"][fitting[-1]]
        edited = tomlkit.dumps(document)
        parse_projects(edited, file=used.name)
        return edited

    rewrite(used, edit, what=WHAT)
    return used, taken[0]


def set_wanted(path: Path | str | None, wanted: Mapping[str, Mapping[str, u.Quantity]]) -> Path:
    """Set the hours wanted of targets and return the file's path; one that is not there is begun.

    `path`: the file; None for the user's own. `wanted` [h]: by target, as the file names it, then by filter: all that
    is wanted of it. A target that the file does not name is added; one of which nothing is wanted is taken out, unless
    nights of it are recorded.
    Raises InvalidInputError if the file is the packaged demo or damaged, or hours break their rule. It then stands as
    it was.
    """
    used = _own(path)
    for target, hours in wanted.items():
        for band, value in hours.items():
            check(f"hours wanted of {target} in {band}", value, HOURS)
    rewrite(used, lambda text: _with_all_wanted(text, used.name, wanted), what=WHAT, start=HEAD)
    return used


def _with_all_wanted(text: str, file: str, wanted: Mapping[str, Mapping[str, u.Quantity]]) -> str:
    """Return the text with the hours wanted set, checked before and after."""
    import tomlkit

    known = {name_key(project.target): project for project in parse_projects(text, file=file)}
    changed = {name: hours for name, hours in wanted.items() if name_key(name) in known
               and dict(known[name_key(name)].wanted) != dict(hours)}
    if changed:
        document = tomlkit.parse(text)
        for name, hours in changed.items():
            if hours or known[name_key(name)].done:
                _table(document, name)["wanted"] = toml_value(hours)
            else:
                document["project"].remove(_table(document, name))
        text = tomlkit.dumps(document)
    new = "".join(f"\n[[project]]\ntarget = {json.dumps(name, ensure_ascii=False)}\nwanted = "
                  f"{toml_value(hours).as_string()}\n" for name, hours in wanted.items()
                  if hours and name_key(name) not in known)
    edited = f"{text.rstrip()}\n{new}"
    parse_projects(edited, file=file)
    return edited


def _own(path: Path | str | None) -> Path:
    """Return the file to change: never the packaged demo."""
    not_standard_input(Path(path or "."), WHAT)
    used = (user_projects_path() if path is None else Path(path).expanduser()).resolve()
    if used == packaged_data("projects.toml").resolve():
        raise InvalidInputError(WHAT, used.name, "is the packaged demo and cannot be changed",
                                "Give a file of your own with --project.")
    return used


def _table(document: Any, target: str) -> Any:
    return next(table for table in document["project"] if name_key(str(table["target"])) == name_key(target))


def _edited(text: str, file: str, target: str, done: DoneNight, wanted: u.Quantity | None, replace: bool) -> str:
    """Return the text with the night added, checked before and after."""
    import tomlkit

    projects = parse_projects(text, file=file)
    if not any(name_key(project.target) == name_key(target) for project in projects):
        if wanted is None:
            near = did_you_mean(target, [project.target for project in projects])
            raise InvalidInputError(f"{file}: target", target, "has no project",
                                    f'{near} A new one begins with --wanted "8 h": the hours you want.'.strip())
        text = f"{text.rstrip()}\n\n[[project]]\ntarget = {json.dumps(target, ensure_ascii=False)}\n"
    document = tomlkit.parse(text)
    table = _table(document, target)
    old = next((project.done for project in projects if name_key(project.target) == name_key(target)), ())
    for place in reversed(range(len(old))):
        same_night = (old[place].night, old[place].filter.lower(), old[place].panel) == (
            done.night, done.filter.lower(), done.panel)
        if (replace and same_night) or (done.id is not None and old[place].id == done.id):
            del table["done"][place]
    _add(table, done, wanted)
    edited = tomlkit.dumps(document)
    parse_projects(edited, file=file)
    return edited


def _add(table: Any, done: DoneNight, wanted: u.Quantity | None) -> None:
    """Add a night to a project's table."""
    import tomlkit

    with before_notes(table):
        if wanted is not None:
            table["wanted"] = toml_value({**table.get("wanted", {}), done.filter: wanted})
        if not table.get("done"):
            table["done"] = tomlkit.array()
        table["done"].append(_line(done))
        table["done"].multiline(True)


def _line(done: DoneNight) -> Any:
    amount = {"time": done.time} if done.subs is None or done.sub_exposure is None else {
        "subs": done.subs, "sub_exposure": done.sub_exposure}
    return toml_value({"night": done.night, "filter": done.filter, **amount, "counted": done.counted,
                       "panel": done.panel, "id": done.id})
