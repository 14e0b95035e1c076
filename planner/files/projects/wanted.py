"""Which targets are at hand for a night, and what is wanted of them: the list, the projects, what is named."""

import functools
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from astropy import units as u

from planner.checks import given
from planner.errors import InvalidInputError
from planner.files.own_files import packaged_data
from planner.files.projects import ProjectFile, load_projects, user_projects_path
from planner.files.projects.load import name_key
from planner.files.reading import is_there
from planner.files.targets import each_once, find_each, find_target, numbers_of, user_targets_path
from planner.files.targets.lists import read_target_list
from planner.rig import Rig, Site
from planner.session.match.wishes import Wish
from planner.session.projects.default_request import default_needs, kind_of_object
from planner.session.projects.project import Project
from planner.session.projects.project_requests import project_requests
from planner.session.projects.request import Request
from planner.visibility.target import Target

DEMO_LIST, SOUTHERN_LIST = "targets.csv", "targets_south.csv"


@dataclass(frozen=True)
class StandingList:
    """The user's list of targets, or the demo's."""

    path: Path
    targets: tuple[Target, ...]
    is_demo: bool


def standing_list_path(site: Site) -> Path:
    """Return the file of the standing list: the user's if it is there, else the demo's of that hemisphere."""
    own = user_targets_path()
    return own if is_there(own) else packaged_data(SOUTHERN_LIST if site.latitude < 0 else DEMO_LIST)


def standing_list(site: Site) -> StandingList:
    """Return the targets of the standing list for a site, each once.

    Raises InvalidInputError with the line of the first problem.
    """
    path = standing_list_path(site)
    targets = listed_targets(path)
    if not targets:
        raise InvalidInputError("target list", path, "holds no target yet", "Add a line for each, or name targets.")
    return StandingList(path, targets, path != user_targets_path())


def listed_beside(projects: ProjectFile) -> list[str]:
    """Return the names in the user's list, if there is one, of which there is no project."""
    path = user_targets_path()
    entries = read_target_list(path) if is_there(path) else []
    found, _ = find_each(entry for entry in entries if isinstance(entry, str))
    known = _by_target(projects)
    places = each_once(entry if isinstance(entry, Target) else found[" ".join(entry.split())] for entry in entries
                       if isinstance(entry, Target) or " ".join(entry.split()) in found)
    return [place.name for place in places if _known(place, known) is None]


def listed_targets(path: Path) -> tuple[Target, ...]:
    """Return the targets of a list file, each once."""
    entries = read_target_list(path)
    found, unknown = find_each(entry for entry in entries if isinstance(entry, str))
    for text in unknown:
        find_target(text)  # raises with the nearest names
    return each_once(found[" ".join(entry.split())] if isinstance(entry, str) else entry for entry in entries)


def own_projects() -> ProjectFile | None:
    """Return the user's own projects; None if there is no file of theirs."""
    return load_projects(None) if is_there(user_projects_path()) else None


def project_of(target: Target, projects: ProjectFile | None) -> Project | None:
    """Return the project of a target, by whatever name the file calls it; None if there is none."""
    return _known(target, _by_target(projects))


def left_to_do(places: Iterable[Target], projects: ProjectFile | None, *, targets: Path | None = None
               ) -> list[Mapping[str, u.Quantity] | None]:
    """Return what the project of each target still lacks by filter, in equivalent hours; None where there is none.

    `targets` is a list of the user's in which the file's names may stand.
    """
    known = _by_target(projects, targets)
    found = [_known(place, known) for place in places]
    return [None if item is None else {name: item.left(name) for name in item.wanted} for item in found]


def requests_for(wanted: Iterable[tuple[Target, float | None]], rig: Rig, projects: ProjectFile | None, *,
                 targets: Path | None = None, hydrogen: bool = False) -> tuple[Request, ...]:
    """Return what is wanted of targets: what their project still lacks, else what one usually wants of the kind.

    `wanted`: with a priority; None for the project's, or 1. `targets`: a list of the user's in which the file's names
    may stand. `hydrogen`: want the H-alpha of galaxies too, where no project says.
    """
    known, found = _by_target(projects, targets), []
    usual = functools.cache(lambda kind: default_needs(kind, rig, hydrogen=hydrogen))  # once for a thousand targets
    for target, priority in wanted:
        project = _known(target, known)
        requests = (project and project_requests(project, target, rig)) or (
            Request(target=target, needs=usual(kind_of_object(target)), usual=True),)
        found += [request if priority is None else replace(request, priority=priority / len(requests))
                  for request in requests]
    return tuple(found)


def _known(target: Target, known: dict[str, Project]) -> Project | None:
    """Return the project of a target by whichever of its numbers the file knows."""
    return next((known[name_key(name)] for name in numbers_of(target) if name_key(name) in known), None)


def _by_target(projects: ProjectFile | None, targets: Path | None = None) -> dict[str, Project]:
    """Return projects by the file's name of their target and by the catalogue's; of two the first."""
    known: dict[str, Project] = {}
    items = () if projects is None else projects.projects
    if not items:
        return known  # no list is read for them
    places, _ = find_each((item.target for item in items), targets=targets)  # a name that nothing has: another's
    for item in items:
        place = places.get(" ".join(item.target.split()))
        for name in (item.target, *(() if place is None else numbers_of(place))):
            known.setdefault(name_key(name), item)
    return known


def wishes_of(file: ProjectFile, rig: Rig, *, targets: Path | None = None) -> tuple[Wish, ...]:
    """Return what is left to do in the filters of a rig, each project told for the filter that has most of it.

    `targets`: a list of the user's in which the file's names may stand.
    Raises InvalidInputError if nothing is left to do, or nothing has a target's name.
    """
    found = []
    for one in file.projects:
        target, left = find_target(one.target, targets=targets), dict.fromkeys(rig.filters, 0 * u.h)
        for request in project_requests(one, target, rig):  # each panel of a mosaic is to have its hours
            for need in request.needs:
                left[need.band] = left[need.band] + max(given(need.hours) - need.done, 0 * u.h)
        most = max(rig.filters, key=lambda band: left[band])
        if left[most] > 0:
            found.append(Wish(target=target, band=most, hours=sum(left.values(), 0 * u.h)))
    if not found:
        raise InvalidInputError("projects", rig.name, "must have hours left to do in the rig's filters",
                                "Add some with planner done, or name another rig.")
    return tuple(found)
