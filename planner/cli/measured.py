"""What the measuring commands share: where the telescope stood, and the way back into the equipment file."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Annotated, Any

import typer
from astropy import units as u

from planner.checks import Rule, check
from planner.cli.output import note, print_table
from planner.files.equipment_edit import write_equipment_table
from planner.files.quantities import parse_quantity
from planner.rig import Equipment, Mount, Site

LatitudeOption = Annotated[
    float | None, typer.Option("--latitude", metavar="DEG", help="Latitude, north positive; else of file or site.")
]
SaveOption = Annotated[
    bool, typer.Option("--save", help="Write what was measured into the mount of your equipment file.")
]


def degrees(name: str, value: float | None, limit: float) -> u.Quantity | None:
    """Return an option in degrees as a Quantity, checked to lie within ±limit; None stays None."""
    if value is None:
        return None
    rule = Rule(unit=u.deg, kind="quantity", at_least=-limit, at_most=limit, remedy="Give it in degrees.")
    return check(name, value * u.deg, rule)


def measure(name: str, text: str | None, unit: str, example: str) -> u.Quantity | None:
    """Return an option that is written with its unit, more than zero; None stays None."""
    if text is None:
        return None
    rule = Rule(unit=u.Unit(unit), kind="quantity", more_than=0, remedy=f"Write it like {example}.")
    return check(name, parse_quantity(name, text, rule), rule)


def the_latitude(option: u.Quantity | None, file: u.Quantity | None, site: Site) -> u.Quantity:
    """Return the latitude: the option's, else the file's, else the site's, which is then said."""
    if option is not None:
        return option
    if file is not None:
        return file
    note(f'Latitude {site.latitude.to_value(u.deg):g} deg from the site "{site.name}".')
    return site.latitude


def own_mount(equipment: Equipment, rig: str | None) -> Mount | None:
    """Return the mount whose table the measurement refers to; the demo's first one stands for nobody's."""
    return None if equipment.is_demo and rig is None else equipment.rig(rig).mount


def save_mount(equipment: Path | None, mount: Mount, values: Mapping[str, Any]) -> str:
    """Write keys into the mount's table and return the file's path; the version before stays as ``.bak``."""
    return str(write_equipment_table(equipment, "mount", mount.name, values))


def show_changes(changes: Sequence[tuple[str, str, str]], saved: str | None, mount: Mount) -> None:
    """Print what a measurement changes in the mount's table, and whether it was written."""
    title = f'Mount "{mount.name}": {"changed" if saved else "what --save would change"}'
    print_table(title, ("key", "before", "after"), changes)
    if saved:
        print(f"Saved in {saved}; the version before is beside it as .bak.")
