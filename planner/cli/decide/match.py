"""`planner match`: which camera on which telescope, with which reducer and binning, for a target or any field."""

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Annotated

import typer
from astropy import units as u

from planner.cli import asked as ask
from planner.cli import options
from planner.cli.output import console, print_json, print_lines, print_table
from planner.errors import InvalidInputError

if TYPE_CHECKING:
    from planner.rig import Equipment, Rig, Site
    from planner.session.match.combinations import Combinations
    from planner.session.match.set_ups import SetUp
    from planner.visibility import Target

app = options.new_app()
SHOWN = 12
FOR_A_LIST = ("rig", "site", "night", "mount", "guider", "seeing", "as_good", "projects", "buy", "project", "targets",
              "equipment", "json")


@app.command()
def match(
    context: typer.Context,
    target: Annotated[list[str] | None, typer.Argument(help="Catalogue or common name, or coordinates; without it any "
                                                            "field that passes overhead.")] = None,
    rig: options.RigOption = None, site: options.SiteOption = None, night: options.NightOption = None,
    mount: Annotated[str | None, typer.Option("--mount", metavar="NAME", help="Mount; the rig's own.")] = None,
    guider: Annotated[str | None, typer.Option("--guider", metavar="NAME", help='Guider, or "none"; the rig\'s '
                                                                                'own.')] = None,
    band: ask.FilterOption = None,
    seeing: Annotated[str | None, typer.Option("--seeing", metavar="ANGLE", help="FWHM at the zenith, 500 nm, in "
                                                                                 "arcsec; else the site's.")] = None,
    rank: Annotated[str | None, typer.Option("--rank", metavar="FIGURE", help="detail, surface, sharpness, field or "
                                             "stars; stars for a cluster, else detail.")] = None,
    binning: Annotated[str, typer.Option("--binning", metavar="LIST", help="Pixels per side added into one.")]
    = "1,2,3",
    brightness: ask.BrightnessOption = None, line: ask.LineOption = None, ratio: ask.RatioOption = None,
    area: ask.AreaOption = None,
    star: Annotated[str | None, typer.Option("--star", metavar="VALUE", help='Faintest star wanted, like "18 mag"; as '
                                             "bright as the area of the surface.")] = None,
    apart: Annotated[str | None, typer.Option("--apart", metavar="ANGLE", help="Distance of that star's neighbour, as "
                                              "bright, in arcsec; alone if not given.")] = None,
    core: Annotated[str | None, typer.Option("--core", metavar="VALUE", help="Brightest part, like "
                                             '"15 mag/arcsec2" or "5000 R"; the target\'s mean light.')] = None,
    size: Annotated[str | None, typer.Option("--size", metavar="ANGLES", help='The target\'s size if you know better: '
                                                                              '"3x2 deg", "30 arcmin".')] = None,
    overlap: Annotated[float, typer.Option("--overlap", help="Share of a mosaic panel's side that neighbours "
                                                             "repeat.")] = 0.15,
    lowest: ask.LowestOption = ask.LOWEST,
    beside: Annotated[str | None, typer.Option("--beside", metavar="A,B", help="Lay the set-ups of two ranks side by "
                                                                               "side.")] = None,
    period: Annotated[str | None, typer.Option("--period", metavar="ANGLE", help="Detail wanted, from bright to "
                                               "bright; 6 arcsec, or a thousandth of the target.")] = None,
    drizzle: Annotated[bool, typer.Option("--drizzle", help="Dithered frames are put on a finer grid: detail down to "
                                                            "one pixel.")] = False,
    as_good: Annotated[float, typer.Option("--as-good", metavar="SHARE", help="By how much of the time two may differ "
                                                                              "and still be equal.")] = 0.1,
    any_load: Annotated[bool, typer.Option("--any-load", help="A load beyond the mount's rating is no reason to stand "
                                                              "behind.")] = False,
    any_circle: Annotated[bool, typer.Option("--any-circle", help="Count the whole sensor where the optics light less "
                                                                  "of it.")] = False,
    show_all: Annotated[bool, typer.Option("--all", help="List the outclassed set-ups too.")] = False,
    projects: Annotated[bool, typer.Option("--projects", help="The best set-up for each of your projects, and one for "
                                                              "all.")] = False,
    buy: Annotated[bool, typer.Option("--buy", help="With --projects: which one part more would save most "
                                                    "hours.")] = False,
    project: options.ProjectOption = None, targets: options.TargetsOption = None,
    equipment: options.EquipmentOption = None, json: options.JsonOption = False,
) -> None:
    """Rank every telescope, reducer and camera you own by the time that your mount needs with it."""
    from planner.checks import Rule, check

    gear = options.open_equipment(equipment)
    chosen_site = _site(gear.site(site), seeing)
    chosen_rig = _rig(gear, gear.rig(rig), mount, guider)
    equal = check("--as-good", as_good, Rule(at_least=0, at_most=1, remedy="Give a share, e.g. 0.1."))
    if projects or buy:
        from planner.cli.decide.match_projects import match_projects

        _only_for_a_list(context)
        match_projects(gear, chosen_rig, chosen_site, project=project, targets=targets, buy=buy, json=json,
                       as_good=equal, date=options.night_date(night, chosen_site))
        return
    sizes, angle, goal = _sizes(binning), ask.lowest_altitude(lowest), ask.goal_of(brightness, line, ratio, area)
    from planner.files.quantities import parse_option
    from planner.files.targets import find_target
    from planner.files.targets.stars import stars_around
    from planner.session.advice.answer import filter_named
    from planner.session.match.combinations import APART_RULE, PERIOD_RULE, STAR_RULE, weigh_combinations
    from planner.session.match.set_ups import set_ups

    place = find_target(" ".join(target), targets=targets) if target else None
    if size is not None:
        place = _sized(place, size)
    asked = weigh_combinations(
        gear, chosen_rig, chosen_site, filter_named(chosen_rig, band), target=place, goal=goal, ranking=rank,
        binnings=sizes, overlap=overlap, lowest_altitude=angle,
        date=options.night_date(night, chosen_site), stars_around=stars_around,
        drizzled=drizzle, any_circle=any_circle, any_load=any_load,
        core=None if core is None else ask.surface_or_line("--core", core),
        **{name: None if text is None else parse_option(f"--{name}", text, rule) for name, text, rule in (
            ("period", period, PERIOD_RULE), ("star", star, STAR_RULE), ("apart", apart, APART_RULE))})
    rows = set_ups(asked, as_good=equal)
    pair = _pair(beside, len(rows))
    if json:
        from planner.fields import document
        from planner.session.match.answer import MatchAnswer

        print_json(document(MatchAnswer(asked, rows, pair)))
    else:
        _show(asked, rows, pair, equal, show_all)


def _only_for_a_list(context: typer.Context) -> None:
    """Refuse what belongs to one target beside a list of projects."""
    for option in context.command.params:
        given = context.get_parameter_source(option.name or "")
        if option.name in FOR_A_LIST or given is None or given.name != "COMMANDLINE":
            continue
        value = context.params[option.name or ""]
        raise InvalidInputError(option.opts[0], " ".join(value) if isinstance(value, list) else value,
                                "belongs to one target and must stand without --projects and --buy", "Leave one out.")


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
        rig = replace(rig, guider=None if none else find_by_name("guider", gear.guiders, guider, besides=("none",)))
    return rig


def _sized(target: "Target | None", text: str) -> "Target":
    """Return the target with a size of the observer's own."""
    from planner.files.forms.typed import typed_size

    major, minor = typed_size("--size", text)
    if target is None:
        raise InvalidInputError("--size", text, "must be that of a target", "Name the target too.")
    return replace(target, size_major=major, size_minor=minor)


def _sizes(text: str) -> list[int]:
    """Return the binnings of a list like ``1,2``."""
    parts = [part.strip() for part in text.split(",")]
    if not all(part.isdigit() and 1 <= int(part) <= 8 for part in parts):
        raise InvalidInputError("--binning", text, "must be whole numbers from 1 to 8", "Write them like 1,2,3.")
    return [int(part) for part in parts]


def _pair(text: str | None, count: int) -> tuple[int, ...]:
    """Return the two ranks to lay side by side, none if none are named."""
    if text is None or not count:
        return ()
    parts = [part.strip() for part in text.split(",")]
    good = len(parts) == 2 and all(part.isdigit() and 1 <= int(part) <= count for part in parts)
    if not good or int(parts[0]) == int(parts[1]):
        raise InvalidInputError("--beside", text, f"must be two different ranks from 1 to {count}",
                                "Write them like 1,4.")
    return int(parts[0]), int(parts[1])


def _show(asked: "Combinations", rows: "Sequence[SetUp]", pair: tuple[int, ...], as_good: float,
          show_all: bool) -> None:
    """Print one screen: the best set-up, those as good, the table, and two set-ups side by side."""
    from planner.session.match.text import (
        BESIDE,
        BRIGHT_CORE,
        FORBIDS,
        MOUNT,
        as_good_text,
        guider_text,
        headline,
        held_back_text,
        limits,
        ranking_text,
        stars_text,
    )

    out = console()
    out.print(headline(asked, rows), style="bold", markup=False)
    if not rows:
        out.print("Choose another target, a lower altitude limit, or another site.", markup=False)
        return
    guider = "no guider" if asked.rig.guider is None else f'guider "{asked.rig.guider.name}"'
    out.print(f'Site "{asked.site.name}", seeing {asked.site.seeing.value:g}″, filter "{asked.band.name}", mount '
              f'"{asked.rig.mount.name}", {guider}', style="dim", markup=False)
    told = [limit.sentence for limit in limits(asked, rows[0]) if limit.cause in (MOUNT, FORBIDS, BESIDE, BRIGHT_CORE)]
    for text in (as_good_text(asked, rows, as_good), held_back_text(asked, rows, as_good), guider_text(asked, rows),
                 stars_text(asked, rows[0]), *told, ranking_text(asked, rows)):
        if text:
            out.print(text, markup=False)
    _table(asked, rows, show_all)
    if pair:
        from planner.session.match.pair import side_by_side

        first, second = (rows[rank - 1] for rank in pair)
        print_table("Side by side", ("", first.name, second.name, "better"),
                    [(row.label, row.first, row.second, row.better) for row in side_by_side(asked, first, second)])


def _table(asked: "Combinations", rows: "Sequence[SetUp]", show_all: bool) -> None:
    from planner.session.match.text import (
        binnings_text,
        causes_text,
        field_text,
        reach_text,
        set_up_text,
        sharpest_text,
        target_text,
        time_text,
    )

    listed = [row for row in rows if show_all or row.as_good or row.outclassed_by is None]
    shown = listed if show_all else listed[:SHOWN]
    lines = [(
        f"{row.rank}=" if row.as_good and row.rank > 1 else row.rank, row.name, binnings_text(row), set_up_text(row),
        time_text(row.surface_time), time_text(row.detail_time), time_text(row.star_time),
        reach_text(row).replace(" mag/arcsec²", ""),
        sharpest_text(asked, row),
        target_text(asked, row.choice) or field_text(row.choice), causes_text(asked, row)) for row in shown]
    finest = {"sharpness": "width", "stars": "two stars"}.get(asked.ranking, "finest")
    print_table("Set-ups on this mount", (
        "rank", "set-up", "binning", "on the mount", "surface", "detail", "stars", "depth", finest, "in one frame",
        "limited by"), lines, right=("surface", "detail", "stars", "depth", finest))
    if len(rows) > len(shown):
        print_lines(_hidden_text(len(rows) - len(listed), len(listed) - len(shown)))


def _hidden_text(outclassed: int, later: int) -> str:
    """Say how many set-ups are not listed, and why."""
    beaten = f"{outclassed} not listed: for {'it' if outclassed == 1 else 'each'} there is another set-up that is " \
             "clearly worse in nothing and clearly better in something."
    further = f"{later} more rank{'s' if later == 1 else ''} lower."
    return f"{' '.join([beaten] * bool(outclassed) + [further] * bool(later))} --all lists them."
