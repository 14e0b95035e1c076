"""Options for what is asked of the sky, shared by advise, match, night, season and objects, and their values."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Annotated, Any

import typer

from planner.errors import InvalidInputError

if TYPE_CHECKING:
    from astropy import units as u

    from planner.exposure.depth import Goal

FilterOption = Annotated[str | None, typer.Option("--filter", metavar="NAME", help="Filter; the rig's first one.")]
LowestOption = Annotated[str, typer.Option("--lowest-altitude", metavar="ANGLE",
                                           help="Altitude below which no sub is taken.")]
BrightnessOption = Annotated[str | None, typer.Option("--brightness", metavar="VALUE", help="Surface brightness "
                                                      'wanted, like "24 mag/arcsec2"; 26.5 if no line is.')]
LineOption = Annotated[str | None, typer.Option(
    "--line", metavar="VALUE", help='Emission line wanted, like "20 R" (rayleigh); usual for a line filter.')]
RatioOption = Annotated[float | None, typer.Option(
    "--signal-to-noise", help="Wanted, on an area of sky; 5, or 10 through a line filter.")]
AreaOption = Annotated[str | None, typer.Option("--area", metavar="VALUE", help="Of sky that the ratio is for, like "
                                                '"400 arcsec2": as large as the patches of dust; 25.')]
LOWEST = "30 deg"


def refuse(options: Mapping[str, Any], rule: str, remedy: str = "Leave one of them out.") -> None:
    """Refuse the first of some options that was given."""
    for option, value in options.items():
        if value is not None:
            raise InvalidInputError(option, value, rule, remedy)


def lowest_altitude(text: str) -> "u.Quantity":
    """Return the lowest altitude."""
    from astropy import units as u

    from planner.checks import Rule
    from planner.files.quantities import parse_option

    rule = Rule(unit=u.deg, kind="quantity", at_least=0, less_than=90, remedy='Write it like "30 deg".')
    return parse_option("--lowest-altitude", text, rule)


def surface_or_line(option: str, text: str, *, line: bool | None = None) -> "u.Quantity":
    """Return a surface brightness [mag/arcsec2] or the intensity of a line [R]; the text says which, or `line`."""
    from planner.exposure.depth import LINE_RULE, SURFACE_RULE
    from planner.files.quantities import parse_option

    return parse_option(option, text, LINE_RULE if line or (line is None and "arcsec" not in text) else SURFACE_RULE)


def goal_of(brightness: str | None, line: str | None, ratio: float | None, area: str | None) -> "Goal":
    """Return what the total exposure is for; what is not given stays open."""
    from planner.checks import check
    from planner.exposure.depth import AREA_RULE, GOAL_AREA, RATIO_RULE, Goal
    from planner.files.quantities import parse_option

    if ratio is not None:
        check("--signal-to-noise", ratio, RATIO_RULE)
    return Goal(brightness=None if brightness is None else surface_or_line("--brightness", brightness, line=False),
                line=None if line is None else surface_or_line("--line", line, line=True), signal_to_noise=ratio,
                area=GOAL_AREA if area is None else parse_option("--area", area, AREA_RULE))
