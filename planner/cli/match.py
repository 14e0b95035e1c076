"""`planner match`: which camera on which telescope, with which reducer and binning, for a target or any field."""

from dataclasses import replace
from typing import TYPE_CHECKING, Annotated

import typer
from astropy import units as u

from planner.cli.asked import (
    LOWEST,
    BrightnessOption,
    FilterOption,
    LineOption,
    LowestOption,
    RatioOption,
    goal_of,
    lowest_altitude,
)
from planner.cli.options import (
    EquipmentOption,
    JsonOption,
    RigOption,
    SiteOption,
    TargetsOption,
    new_app,
    open_equipment,
)
from planner.cli.output import console, print_json, print_table
from planner.errors import InvalidInputError

if TYPE_CHECKING:
    from planner.rig import Equipment, Rig, Site
    from planner.session.match.combination import Combination
    from planner.session.match.combinations import Combinations
    from planner.session.match.guiding_choice import OnMount

app = new_app()
JUDGED = 5  # choices that are asked of the mount: some tens of milliseconds each
SHOWN = 12


@app.command()
def match(
    target: Annotated[list[str] | None, typer.Argument(help="Catalogue or common name, or coordinates; without it any "
                                                            "field that passes overhead.")] = None,
    rig: RigOption = None,
    site: SiteOption = None,
    mount: Annotated[str | None, typer.Option("--mount", metavar="NAME", help="Mount; the rig's own.")] = None,
    guider: Annotated[str | None, typer.Option("--guider", metavar="NAME", help='Guider, or "none"; the rig\'s '
                                                                                'own.')] = None,
    band: FilterOption = None,
    seeing: Annotated[str | None, typer.Option("--seeing", metavar="ANGLE", help="FWHM at the zenith, 500 nm; the "
                                                                                 "site's usual one.")] = None,
    rank: Annotated[str, typer.Option("--rank", metavar="FIGURE", help="detail, surface, sharpness or field.")]
    = "detail",
    binning: Annotated[str, typer.Option("--binning", metavar="LIST", help="Pixels per side added into one.")]
    = "1,2,3",
    brightness: BrightnessOption = None,
    line: LineOption = None,
    ratio: RatioOption = None,
    overlap: Annotated[float, typer.Option("--overlap", help="Share of a mosaic panel's side that neighbours "
                                                             "repeat.")] = 0.15,
    lowest: LowestOption = LOWEST,
    beside: Annotated[str | None, typer.Option("--beside", metavar="A,B", help="Lay the choices of two ranks side by "
                                                                               "side.")] = None,
    show_all: Annotated[bool, typer.Option("--all", help="List the outclassed choices too.")] = False,
    targets: TargetsOption = None,
    equipment: EquipmentOption = None,
    json: JsonOption = False,
) -> None:
    """Rank every camera, telescope, reducer and binning you own, for a target and the seeing."""
    gear = open_equipment(equipment)
    chosen_site = _site(gear.site(site), seeing)
    chosen_rig = _rig(gear, gear.rig(rig), mount, guider)
    sizes, angle, goal = _sizes(binning), lowest_altitude(lowest), goal_of(brightness, line, ratio)
    from planner.files.targets import find_target
    from planner.session.advice.answer import filter_named
    from planner.session.match.combinations import rank_combinations

    place = find_target(" ".join(target), targets=targets) if target else None
    asked = rank_combinations(
        gear, chosen_rig, chosen_site, filter_named(chosen_rig, band), target=place, goal=goal, ranking=rank,
        binnings=sizes, overlap=overlap, lowest_altitude=angle)
    pair = _pair(beside, asked)
    wanted = [choice for choice in asked.ranked if choice.outclassed_by is None][:JUDGED]
    judged = _judged(asked, [*wanted, *(asked.ranked[rank - 1] for rank in pair)])
    if json:
        from planner.session.match.document import combinations_document

        print_json(combinations_document(asked, judged, pair))
    else:
        _show(asked, judged, pair, show_all)


def _site(site: "Site", seeing: str | None) -> "Site":
    """Return the site, with another night's seeing if one is given."""
    if seeing is None:
        return site
    from planner.checks import Rule
    from planner.files.quantities import parse_option

    rule = Rule(unit=u.arcsec, kind="quantity", more_than=0, at_most=20, remedy='Write it like "2.5 arcsec".')
    return replace(site, seeing=parse_option("--seeing", seeing, rule))


def _rig(gear: "Equipment", rig: "Rig", mount: str | None, guider: str | None) -> "Rig":
    """Return the rig with another mount or guider if one is named."""
    from planner.rig.equipment import find_by_name

    if mount is not None:
        rig = replace(rig, mount=find_by_name("mount", gear.mounts, mount))
    if guider is not None:
        none = guider.strip().lower() == "none"
        rig = replace(rig, guider=None if none else find_by_name("guider", gear.guiders, guider))
    return rig


def _sizes(text: str) -> list[int]:
    """Return the binnings of a list like ``1,2``."""
    parts = [part.strip() for part in text.split(",")]
    if not all(part.isdigit() and 1 <= int(part) <= 8 for part in parts):
        raise InvalidInputError("--binning", text, "must be whole numbers from 1 to 8", "Write them like 1,2,3.")
    return [int(part) for part in parts]


def _pair(text: str | None, asked: "Combinations") -> tuple[int, ...]:
    """Return the two ranks to lay side by side, none if none are named."""
    if text is None or not asked.ranked:
        return ()
    parts = [part.strip() for part in text.split(",")]
    good = len(parts) == 2 and all(part.isdigit() and 1 <= int(part) <= len(asked.ranked) for part in parts)
    if not good or int(parts[0]) == int(parts[1]):
        raise InvalidInputError("--beside", text, f"must be two ranks from 1 to {len(asked.ranked)}",
                                "Write them like 1,4.")
    return int(parts[0]), int(parts[1])


def _judged(asked: "Combinations", choices: "list[Combination]") -> "dict[int, OnMount]":
    """Return by rank what the mount makes of some choices."""
    from planner.session.match.guiding_choice import on_mount

    return {rank: on_mount(asked, asked.ranked[rank - 1]) for rank in sorted({choice.rank for choice in choices})}


def _show(asked: "Combinations", judged: "dict[int, OnMount]", pair: tuple[int, ...], show_all: bool) -> None:
    """Print one screen: the best choice, the table, the mount's part, and two choices side by side."""
    from planner.session.match.text import headline, ranking_text

    out = console()
    out.print(headline(asked), style="bold", markup=False)
    if not asked.ranked:
        out.print("Choose another target, a lower altitude limit, or another site.", markup=False)
        return
    guider = "no guider" if asked.rig.guider is None else f'guider "{asked.rig.guider.name}"'
    out.print(f'Site "{asked.site.name}", seeing {asked.site.seeing.value:g}″, filter "{asked.band.name}", mount '
              f'"{asked.rig.mount.name}", {guider}', style="dim", markup=False)
    out.print(ranking_text(asked), markup=False)
    for note in asked.notes:
        out.print(note, style="dim", markup=False)
    _table(asked, show_all)
    _mount_table(asked, judged)
    if pair:
        _pair_table(asked, judged[pair[0]], judged[pair[1]])


def _table(asked: "Combinations", show_all: bool) -> None:
    """Print the ranking."""
    from planner.session.match.text import field_text, limited_by, target_text, time_text, whole_times

    listed = [choice for choice in asked.ranked if show_all or choice.outclassed_by is None]
    shown = listed if show_all else listed[:SHOWN]
    rows = []
    for choice in shown:
        surface, detail = (time_text(time) for time in whole_times(asked, choice))
        rows.append((
            choice.rank if choice.outclassed_by is None else f"{choice.rank} (<{choice.outclassed_by})",
            choice.name, f"{choice.image_scale.value:.2f}″", f"{choice.fwhm.value:.2f}″",
            f"{choice.fwhm_pixels:.1f}", f"{choice.resolution_lost:.0%}",
            target_text(asked, choice) or field_text(choice), surface, detail, limited_by(asked, choice)))
    print_table("Combinations", (
        "rank", "choice", "pixel", "FWHM", "pixels", "lost", "in one frame", "surface", "detail", "limited by"), rows,
        right=("pixel", "FWHM", "pixels", "lost", "surface", "detail"))
    beaten = sum(choice.outclassed_by is not None for choice in asked.ranked)
    if beaten:
        mark = "(<n): choice n is nowhere worse and somewhere better." if show_all else (
            f"{beaten} more are nowhere better and somewhere worse than one of these; --all lists them.")
        print(mark)
    if len(listed) > len(shown):
        print(f"{len(listed) - len(shown)} more are left out; --all lists them.")


def _mount_table(asked: "Combinations", judged: "dict[int, OnMount]") -> None:
    """Print what the mount makes of the first choices."""
    from planner.session.match.text import mount_text

    per = "whole target" if asked.target is not None else "one square degree"
    rows = [(rank, on.combination.name, mount_text(asked, on)) for rank, on in judged.items()]
    print_table(f'On the mount "{asked.rig.mount.name}": guiding, subs, and time for the surface, {per}',
                ("rank", "choice", ""), rows)


def _pair_table(asked: "Combinations", first: "OnMount", second: "OnMount") -> None:
    """Print two choices side by side."""
    from planner.session.match.text import side_by_side

    print_table("Side by side", ("", first.combination.name, second.combination.name, "better"),
                [(row.label, row.first, row.second, row.better) for row in side_by_side(asked, first, second)])
