"""What `planner done` says of the panels of a mosaic: how many there are, and which one a record is of."""

from dataclasses import replace
from typing import TYPE_CHECKING

from planner.cli.output import note
from planner.errors import InvalidInputError

if TYPE_CHECKING:
    from planner.rig.equipment import Equipment
    from planner.session.projects.project import Project


def panels_of(item: "Project", owned: "Equipment", rig: str | None) -> int:
    """Return how many panels a project has: for the rig named, else the first with a filter of its; 1 if no mosaic.

    Where no rig has one they go up to the last one recorded.
    Raises InvalidInputError if nothing has the target's name.
    """
    from planner.files.targets import find_target
    from planner.session.projects.project_requests import panel_targets

    if not item.mosaic:
        return 1
    wanted = {name.lower() for name in item.filters}
    one = owned.rig(rig) if rig else next(
        (rig for rig in owned.rigs if any(band.name.lower() in wanted for band in rig.filters)), None)
    return _last_recorded(item) if one is None else len(panel_targets(find_target(item.target), one))


def panels_told(item: "Project", owned: "Equipment", rig: str | None) -> int:
    """Return the panels as `panels_of`; where nothing has the target's name that is said, and the others are shown."""
    try:
        return panels_of(item, owned, rig)
    except InvalidInputError as error:
        if error.name != "target":
            raise
        note(f"{error} Its panels are taken to go up to the last one recorded.")
        return _last_recorded(item)


def _last_recorded(item: "Project") -> int:
    return max((night.panel or 1 for night in item.done), default=1)


def panel_asked(name: str, item: "Project | None", panels: int) -> int | None:
    """Return the panel that a record is of; None for no mosaic, or for all panels alike where that is said.

    Raises InvalidInputError if a mosaic's panel is not named, or there is no such panel, or no mosaic.
    """
    from planner.files.projects.load import project_and_panel

    target, panel = project_and_panel(name)
    if item is None or not item.mosaic:
        if target != name:
            raise InvalidInputError("target", name, "names a panel, and is no mosaic of your projects",
                                    f'Write "{target}", or mosaic = true in its project first.')
        return None
    if panels > 1 and target == name:
        raise InvalidInputError("target", name, f"is a mosaic of {panels} panels: say which one the frames are of",
                                f'Write it like "{item.target} panel 1", or "{item.target} all panels" to share the '
                                "hours alike.")
    if panel is not None and not 1 <= panel <= panels:
        raise InvalidInputError("target", name, f"has no such panel, only {f'1 to {panels}' if panels > 1 else 1}",
                                "Name one of these.")
    return panel


def panel_lines(item: "Project", panels: int) -> list[str]:
    """Say which hours of a mosaic are shared among its panels, and which are of a panel that it does not have."""
    if panels < 2:
        return []
    shared = _hours(item, {night.panel for night in item.done} & {None})
    lost = _hours(item, {night.panel for night in item.done if night.panel is not None and night.panel > panels})
    return [*([f"{item.target}: {shared} counted without a panel are shared alike by all {panels}."] if shared else []),
            *([f"{item.target}: {lost} counted are of a panel beyond the last, {panels}: nothing has them."]
              if lost else [])]


def _hours(item: "Project", panels: set[int | None]) -> str:
    """Return the equivalent hours by filter that are recorded of some panels; empty for none."""
    part = replace(item, done=tuple(night for night in item.done if night.panel in panels))
    return ", ".join(f"{band} {part.counted_time(band).value:.1f} h" for band in
                     dict.fromkeys(night.filter for night in part.done))
