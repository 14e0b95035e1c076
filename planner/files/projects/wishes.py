"""What is left to do of the projects in a file, for choosing and buying equipment."""

from pathlib import Path

from astropy import units as u

from planner.errors import InvalidInputError
from planner.files.projects import ProjectFile
from planner.files.targets import find_target
from planner.rig import Rig
from planner.session.match.wishes import Wish


def wishes_of(file: ProjectFile, rig: Rig, *, targets: Path | None = None) -> tuple[Wish, ...]:
    """Return what is left to do in the filters of a rig, each project told for the filter that has most of it.

    `targets`: a list of the user's in which the file's names may stand.
    Raises InvalidInputError if nothing is left to do, or nothing has a target's name.
    """
    found = []
    for one in file.projects:
        left = {band: one.left(band.name) for band in rig.filters}
        most = max(rig.filters, key=lambda band: left[band])
        if left[most] > 0:
            found.append(Wish(target=find_target(one.target, targets=targets), band=most,
                              hours=sum(left.values(), 0 * u.h)))
    if not found:
        raise InvalidInputError("projects", rig.name, "must have hours left to do in the rig's filters",
                                "Add some with planner done, or name another rig.")
    return tuple(found)
