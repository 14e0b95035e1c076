"""Which targets are at hand for a night, and what is wanted of them: the list, the projects, what is named."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

from planner.errors import InvalidInputError
from planner.files.packaged import packaged_data
from planner.files.projects import ProjectFile, load_projects, name_key, user_projects_path
from planner.files.reading import is_there
from planner.files.target_lists import read_target_list
from planner.files.targets import find_target, user_targets_path
from planner.rig import Rig
from planner.session.project import Project
from planner.session.project_request import project_request
from planner.session.request import Request, default_request
from planner.visibility.target import Target

DEMO_LIST = "targets.csv"


@dataclass(frozen=True)
class StandingList:
    """The user's list of targets, or the demo's."""

    path: Path
    targets: tuple[Target, ...]
    is_demo: bool


def standing_list_path() -> Path:
    """Return the file of the standing list: the user's if it is there, else the demo's."""
    own = user_targets_path()
    return own if is_there(own) else packaged_data(DEMO_LIST)


def standing_list() -> StandingList:
    """Return the targets of the standing list, each once.

    Raises
    ------
    InvalidInputError
        With the line of the first problem.
    """
    path = standing_list_path()
    return StandingList(path, listed_targets(path), path != user_targets_path())


def listed_targets(path: Path) -> tuple[Target, ...]:
    """Return the targets of a list file, each once."""
    entries = (find_target(entry) if isinstance(entry, str) else entry for entry in read_target_list(path))
    return tuple({place.name: place for place in entries}.values())


def own_projects() -> ProjectFile | None:
    """Return the user's own projects; None if there is no file of theirs."""
    return load_projects(None) if is_there(user_projects_path()) else None


def project_of(target: Target, projects: ProjectFile | None) -> Project | None:
    """Return the project of a target, by whatever name the file calls it; None if there is none."""
    for item in () if projects is None else projects.projects:
        try:
            if name_key(item.target) == name_key(target.name) or find_target(item.target).name == target.name:
                return item
        except InvalidInputError:  # a name that nothing has: some other target's
            continue
    return None


def requests_for(wanted: Iterable[tuple[Target, float | None]], rig: Rig, projects: ProjectFile | None
                 ) -> tuple[Request, ...]:
    """Return what is wanted of targets: what their project still lacks, else what one usually wants of the kind.

    Parameters
    ----------
    wanted : iterable of (Target, float or None)
        With a priority; None for the project's, or 1.
    rig : Rig
    projects : ProjectFile or None
    """
    found = []
    for target, priority in wanted:
        project = project_of(target, projects)
        request = (project and project_request(project, target, rig)) or default_request(target, rig)
        found.append(request if priority is None else replace(request, priority=priority))
    return tuple(found)
