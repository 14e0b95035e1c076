"""`planner match --projects`: the best set-up for each project and for all of them, and what to buy for the list."""

from pathlib import Path
from typing import TYPE_CHECKING

from astropy import units as u

from planner.cli.night.season import DEMO_PROJECTS
from planner.cli.output import console, note, print_json, print_table
from planner.errors import InvalidInputError

if TYPE_CHECKING:
    from planner.rig import Equipment, Rig, Site
    from planner.session.match.wishes import Wish


def match_projects(gear: "Equipment", rig: "Rig", site: "Site", *, project: Path | None, targets: Path | None,
                   buy: bool, json: bool, as_good: float) -> None:
    """Print the list with its set-ups, and the candidates to buy."""
    from planner.files.targets.around import stars_around
    from planner.session.match.purchase import worth_buying
    from planner.session.match.wishes import serve
    from planner.session.match.wishes_text import list_document, list_headline, list_rows, saving_text

    served = serve(gear, rig, site, _wishes(rig, project, targets), stars_around=stars_around, as_good=as_good)
    savings = worth_buying(gear, rig, site, served, stars_around=stars_around) if buy else ()
    if json:
        print_json(list_document(served, savings), "projects")
        return
    console().print(list_headline(served), style="bold", markup=False)
    console().print("Equivalent hours (target in the zenith of a dark sky, perfect mount: the clock takes more) still "
                    f'to do on the rig "{rig.name}", of all filters, and what other set-ups on its mount take for '
                    "them: in proportion to the time of the figure that counts, around transit, no Moon.",
                    style="dim", markup=False)
    print_table("Projects, in equivalent hours", ("target", "filter", "this rig", "best set-up", "takes", "next"),
                list_rows(served), right=("this rig", "takes"))
    if any(one.light and not one.reached for one in served):
        console().print("Where this rig never gets there, the hours are taken as those of the fastest set-up.",
                        style="dim")
    if buy:
        print_table("What to buy", ("one part changed", "saves on this list (equivalent hours)"),
                    [(one.name, saving_text(one)) for one in savings])


def _wishes(rig: "Rig", project: Path | None, targets: Path | None) -> "list[Wish]":
    """Return what is left to do in the filters of the rig, told for the filter that has most of it."""
    from planner.files.projects import load_projects
    from planner.files.targets import find_target
    from planner.session.match.wishes import Wish

    file = load_projects(project)
    if file.is_demo:
        note(DEMO_PROJECTS)
    found = []
    for one in file.projects:
        left = {band: one.left(band.name) for band in rig.filters}
        most = max(rig.filters, key=lambda band: left[band])
        if left[most] > 0:
            found.append(Wish(target=find_target(one.target, targets=targets), band=most,
                              hours=sum(left.values(), 0 * u.h)))
    if not found:
        raise InvalidInputError("--projects", rig.name, "must have hours left to do in the rig's filters",
                                "Add some with planner done, or name another rig.")
    return found
