"""From a project to what a night's plan wants of its target: hours by filter, and those already done."""

from astropy import units as u

from planner.rig import Rig
from planner.session.projects.project import Project
from planner.session.projects.request import Need, Request
from planner.visibility.target import Target


def project_request(project: Project, target: Target, rig: Rig) -> Request | None:
    """Return the request of a project for a rig.

    Parameters
    ----------
    project : Project
    target : Target
        What the project's name stands for.
    rig : Rig
        Wanted filters that it lacks are left out.

    Returns
    -------
    Request or None
        None where the rig has none of the wanted filters. Hours done are those that the nights counted for.
    """
    bands = {band.name.lower(): band for band in rig.filters}
    needs = tuple(Need(band=bands[name.lower()], hours=project.wanted_time(name).to(u.h),
                       done=project.counted_time(name))
                  for name in project.wanted if name.lower() in bands)
    return (Request(target=target, priority=project.priority, completion=project.completion, needs=needs)
            if needs else None)
