"""`planner advise`: guide or not, and how long a sub-exposure, for one target on one night."""

from typing import TYPE_CHECKING, Annotated

import typer
from astropy import units as u

from planner.cli import asked as ask
from planner.cli import options, output
from planner.cli.output import note, print_json

if TYPE_CHECKING:
    from planner.rig import Equipment
    from planner.session.advice.answer import Advice

app = options.new_app()
BESIDE = 60  # columns of a terminal from which figures stand beside their names
FACTS_WIDE = 39  # columns of a figure and its name
SMALLEST_SHOWN = 0.005  # arcsec; what rounds to nothing is left to --json
LENGTHS_SHOWN = (10, 30, 60, 120, 180, 300, 600, 1200)  # s


@app.command()
def advise(
    target: Annotated[list[str], typer.Argument(help="Catalogue or common name, or coordinates: ngc7331, M 31, "
                                                     "22 37 04 +34 24 57.")],
    rig: options.RigOption = None, site: options.SiteOption = None, night: options.NightOption = None,
    band: ask.FilterOption = None, lowest: ask.LowestOption = ask.LOWEST, brightness: ask.BrightnessOption = None,
    line: ask.LineOption = None, ratio: ask.RatioOption = None, area: ask.AreaOption = None,
    targets: options.TargetsOption = None,
    changes: Annotated[list[str] | None, typer.Option(
        "--set", metavar="TABLE.KEY=VALUE", help="What if: one figure of the equipment set to another value, like "
        "mount.polar_altitude_error=1arcmin, site.seeing=1.8arcsec or mount.periodic_error=5arcsec, peak to peak of "
        "all periodic terms; may be given again.")] = None,
    equipment: options.EquipmentOption = None, json: options.JsonOption = False,
) -> None:
    """Say whether to guide and how long one sub-exposure is, for a target on a night."""
    gear = options.open_equipment(equipment)
    chosen_rig, chosen_site = gear.rig(rig), gear.site(site)
    date = options.night_date(night, chosen_site)
    from planner.files.targets import find_target
    from planner.files.targets.stars import stars_around
    from planner.session.advice.answer import advise as advise_on
    from planner.session.advice.answer import filter_named
    from planner.visibility.moving_targets import placed

    chosen_filter = filter_named(chosen_rig, band)
    if changes:
        from planner.files.equipment.what_if import with_changes

        own = chosen_site
        chosen_rig, chosen_site, chosen_filter = with_changes(chosen_rig, own, chosen_filter, changes)
        date = date if chosen_site == own else options.night_date(night, chosen_site)  # elsewhere tonight may differ
        note(f"What if: {', '.join(changes)}. The equipment file stays as it is.")
    place = placed(find_target(" ".join(target), targets=targets), chosen_site, date)
    advice = advise_on(
        place, chosen_rig, chosen_site, date, band=chosen_filter,
        stars=stars_around(place, chosen_rig), lowest_altitude=ask.lowest_altitude(lowest),
        goal=ask.goal_of(brightness, line, ratio, area))
    if json:
        from planner.fields import document
        from planner.session.advice.document import AdviceAnswer

        print_json(document(AdviceAnswer(advice)) | ({"set": changes} if changes else {}))
    else:
        _show(advice, _own_binning(gear, advice))


def _own_binning(gear: "Equipment", advice: "Advice") -> tuple[str, ...]:
    """Return in which of its own binnings a CCD is faster; other sensors are not asked, which takes a while."""
    if advice.rig.camera.register_well is None:
        return ()
    from planner.files.targets.stars import stars_around
    from planner.session.match.own_binning import own_binning_lines

    return own_binning_lines(gear, advice, stars_around)


def _show(advice: "Advice", binning: tuple[str, ...]) -> None:
    """Print one screen: the verdict, why, what would change it, the figures, the budget and the lengths."""
    from planner.session.advice.pier_cost import pier_lines
    from planner.session.advice.rules_of_thumb import rules_of_thumb
    from planner.session.advice.text import OTHER_HOURS, certainty_lines, headline, place_lines

    console = output.console()
    console.print(headline(advice, advice.certainty), style="bold", markup=False)
    console.print(f'Rig "{advice.rig.name}", site "{advice.site.name}", night of {advice.night.date}', markup=False,
                  style="dim")
    for text in advice.notes:
        output.print_lines(text)
    if advice.need is None:
        console.print(advice.window.reason, markup=False)
        return
    if not advice.tonight:
        console.print(f"{advice.window.absence} {OTHER_HOURS}", markup=False)
    for title, lines in (("Why", advice.need.reasons), ("How sure", certainty_lines(advice)),
                         ("Rules of thumb (common practice, no source)",
                          [rule.sentence for rule in rules_of_thumb(advice)]),
                         ("What would change it", [*(change.sentence for change in advice.need.changes), *binning])):
        console.print(f"\n{title}", style="bold")
        for text in lines:
            output.print_lines(f"  {text}")
    console.print()
    for label, value, more in (*place_lines(advice), *pier_lines(advice)):
        wide = console.width >= BESIDE
        output.print_lines(f"{label:<20} {value:<17} {more}" if wide else f"{label}: {value} {more}", hang=FACTS_WIDE)
    console.print()
    _print_ways(advice)
    _print_budget(advice)
    _print_lengths(advice)


def _print_ways(advice: "Advice") -> None:
    from planner.session.advice.text import way_rows

    rows = way_rows(advice)
    output.print_table("One sub-exposure", ("", "unguided", "guided")[: len(rows[0])], rows, boxed=False)


def _print_budget(advice: "Advice") -> None:
    need = advice.verdict
    way = "guided" if need.better is need.guided else "unguided"
    rows: dict[str, dict[str, float]] = {}
    for term in need.better_budget:
        rows.setdefault(term.term, {})[term.axis] = term.rms.to_value(u.arcsec)
    ranked = sorted(rows.items(), key=lambda row: (row[0].startswith("total"), -max(row[1].values())))
    output.print_table(
        f"What moves the star in {need.better.recommended.value:.0f} s {way}, rms in arcsec", ("term", "RA", "Dec"),
        [(name, *(f"{axes[axis]:.2f}" if axis in axes else "" for axis in ("ra", "dec")))
         for name, axes in ranked if max(axes.values()) >= SMALLEST_SHOWN], right=("RA", "Dec"), boxed=False)


def _print_lengths(advice: "Advice") -> None:
    from planner.exposure.reasons import percent
    from planner.session.advice.text import AS_IT_STANDS

    need = advice.verdict
    ways = [("unguided", need.unguided)] + ([("guided", need.guided)] if need.guided is not None else [])
    best = {int(sub.recommended.to_value(u.s)) for _, sub in ways if sub.speed > 0}
    safer = set() if advice.certainty is None else {int(advice.certainty.sub_exposure.to_value(u.s))}  # of the headline
    columns = ["length", *(word for way, _ in ways for word in (f"{way}: kept", "speed"))]
    rows, lengths = [], need.unguided.ladder.exposure.to_value(u.s)
    for place, length in enumerate(lengths):
        if int(length) not in {*LENGTHS_SHOWN, *best, *safer}:
            continue
        cells = []
        for _, sub in ways:
            mark = "*" if int(length) == int(sub.recommended.to_value(u.s)) and sub.speed > 0 else " "
            cells += [percent(sub.ladder.kept[place]), f"{sub.ladder.speed[place]:.2f}{mark}"]
        rows.append((f"{length:4g} s", *cells))
    output.print_table(f"Length of one sub-exposure (* {AS_IT_STANDS})", columns, rows, right=columns, boxed=False)
