"""What is left to do of the projects in a file, for choosing and buying equipment."""

from pathlib import Path

from astropy import units as u

from planner.checks import given
from planner.errors import InvalidInputError
from planner.files.projects import ProjectFile
from planner.files.targets import find_target
from planner.rig import Rig
from planner.session.match.wishes import Wish
from planner.session.projects.project_requests import project_requests


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
