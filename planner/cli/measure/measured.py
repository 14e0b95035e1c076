"""What the measuring commands share: where the telescope stood, and the way back into the equipment file."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Annotated, Any

import typer
from astropy import units as u

from planner.checks import Rule
from planner.cli.options import night_date
from planner.cli.output import note, print_lines, print_table
from planner.errors import InvalidInputError
from planner.files.equipment.edit import write_equipment_table
from planner.files.frames.solved import SolvedFrame
from planner.files.logs import are_frames, read_all_solved
from planner.files.quantities import parse_option
from planner.files.reading import STANDARD_INPUT
from planner.files.writing import version_kept
from planner.measure.error_text import as_read
from planner.rig import Equipment, Mount, Site

LatitudeOption = Annotated[
    str | None, typer.Option("--latitude", metavar="ANGLE", help="In deg, north positive; else of file or site.")
]
SaveOption = Annotated[
    bool, typer.Option("--save", help="Write what was measured into the mount of your equipment file.")
]

AnywayOption = Annotated[bool, typer.Option("--anyway", help="Save even what looks wrong.")]
TargetOption = Annotated[
    str | None, typer.Option("--target", metavar="NAME", help="Target by which the advice before and after is "
                             "compared; if not given, a well-known one that stands high.")
]


def degrees(name: str, text: str | None, limit: float) -> u.Quantity | None:
    """Return an angle, in degrees where no unit is written, checked to lie within ±limit; None stays None."""
    if text is None:
        return None
    rule = Rule(unit=u.deg, kind="quantity", at_least=-limit, at_most=limit, remedy="Give it in degrees.")
    return parse_option(name, text, rule)


def measure(name: str, text: str | None, unit: str, example: str) -> u.Quantity | None:
    """Return an option that is written with its unit, more than zero; None stays None."""
    if text is None:
        return None
    rule = Rule(unit=u.Unit(unit), kind="quantity", more_than=0, remedy=f"Write it like {example}.")
    return parse_option(name, text, rule)


def solved_frames(files: list[Path]) -> list[SolvedFrame] | None:
    """Return the solved frames that were named, or lie in the folder named; None for one file that is a table."""
    from planner.cli.measure.frame_run import frame_files

    if [str(file) for file in files] == [STANDARD_INPUT]:
        return None
    found = frame_files(files)
    return read_all_solved(found) if are_frames(found) else None


def log_name(files: list[Path]) -> str:
    """Return what to call the input: the file's name, or how many there are."""
    return files[0].name if len(files) == 1 else f"{len(files)} frames"


def stated_site(owned: Equipment, site: str | None) -> Site | None:
    """Return the site named or the observer's own; the demo's stands for nobody's."""
    return None if owned.is_demo and site is None else owned.site(site)


def the_latitude(option: u.Quantity | None, file: u.Quantity | None, site: Site) -> u.Quantity:
    """Return the latitude: the option's, else the file's, else the site's, which is then said."""
    if option is not None:
        return option
    if file is not None:
        return file
    note(f'Latitude {site.latitude.to_value(u.deg):g} deg from the site "{site.name}".')
    return site.latitude


def note_doubts(name: str, latitude: u.Quantity, site: Site | None, doubts: Sequence[Any] = (), *, refuse: bool
                ) -> None:
    """Note what speaks against a measurement, its place included, or `refuse` it."""
    from planner.measure.drift.doubts import latitude_doubt

    elsewhere = None if site is None else latitude_doubt(latitude, site)
    found = [*doubts, *([] if elsewhere is None else [elsewhere])]
    if refuse:
        refuse_doubtful(name, found)
    for doubt in found:
        note(f"Doubtful: {doubt.sentence}")


def own_mount(equipment: Equipment, rig: str | None) -> Mount | None:
    """Return the mount whose table the measurement refers to; the demo's first one stands for nobody's."""
    return None if equipment.is_demo and rig is None else equipment.rig(rig).mount


def save_mount(equipment: Path | None, mount: Mount, values: Mapping[str, Any], log: str = "") -> str:
    """Write keys into the mount's table and return the file's path; the version before stays as ``.bak``."""
    return str(write_equipment_table(equipment, "mount", mount.name, values, log=log, measured=True))


def advice_effect(
    owned: Equipment, names: tuple[str | None, str | None], mount: Mount, *, target: str | None, night: str | None
) -> Any:
    """Return what the measured mount changes in the advice for the rig and site of these names."""
    from planner.files.equipment.changed_advice import changed_advice

    rig, site = owned.rig(names[0]), owned.site(names[1])
    return changed_advice(rig, mount, site, night_date(night, site), target=target)


def refuse_doubtful(name: str, doubts: Sequence[Any]) -> None:
    """Raise an error for the first of the doubts that keep a measurement out of the file."""
    if doubts:
        first, more = doubts[0], "".join(f" Also: {doubt.seen}." for doubt in doubts[1:])
        raise InvalidInputError(name, first.seen, first.rule, f"{first.remedy} --anyway saves it.{more}")


def show_changes(
    changes: Sequence[tuple[str, ...]], saved: str | None, mount: Mount, effect: Any = None
) -> None:
    """Print what a measurement changes in the mount's table and in the advice, and whether it was written."""
    title = f'Mount "{mount.name}": {"changed" if saved else "what --save would change"}'
    print_table(title, ("key", "before", "after", "")[: len(changes[0]) if changes else 3],
                [tuple(map(as_read, row)) for row in changes])
    if effect is not None:
        print_lines(effect.sentence if saved else f"Once saved: {effect.sentence}")
    if saved:
        print_lines(f"Saved in {saved}{version_kept(Path(saved))}.")
