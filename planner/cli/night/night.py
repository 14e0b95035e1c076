"""`planner night`: which targets tonight, in which order, through which filter, and when to flip."""

from collections.abc import Sequence
from functools import cache, partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from planner.cli import options
from planner.cli.asked import LOWEST, LowestOption, lowest_altitude
from planner.cli.night import outputs
from planner.cli.output import console, only_our_words, print_json, print_lines, print_table
from planner.fields import document

if TYPE_CHECKING:
    from planner.rig import Rig, Site
    from planner.session.campaign.campaign import Campaign
    from planner.session.night.model import NightPlan
    from planner.session.projects.request import Request
    from planner.visibility.target import Target

app = options.new_app()
TIMES_WIDE = 20  # columns of "17:40 to 18:36 CET" and the blank after it
LEGEND = ("Hours counted are equivalent hours: squared signal-to-noise, one hour being an hour of a perfect camera and "
          "mount with the target in the zenith of a dark, moonless sky.")


@app.command()
def night(
    target: Annotated[list[str] | None, typer.Argument(
        help="Catalogue or common names, or coordinates in quotes: ngc7331 \"M 31\"; none for your projects, "
             "else your list, else the demo's.")] = None,
    rig: options.RigOption = None, beside: options.BesideOption = None, site: options.SiteOption = None,
    night: options.NightOption = None,
    lowest: LowestOption = LOWEST, targets: options.TargetsOption = None, project: options.ProjectOption = None,
    galaxy_hydrogen: outputs.HydrogenOption = False, least_stay: outputs.StayOption = "60 min",
    least_block: outputs.BlockOption = "60 min", flip_margin: outputs.MarginOption = "5 min",
    begin: outputs.BeginOption = None, until: outputs.UntilOption = None, only: outputs.OnlyOption = None,
    moon_distance: outputs.MoonOption = None, calibration: outputs.FramesOption = None,
    look_ahead: outputs.LookOption = None, clear: outputs.ClearOption = None, ics: outputs.CalendarOption = None,
    sheet: outputs.SheetOption = None, table: outputs.TableOption = None, force: outputs.ForceOption = False,
    equipment: options.EquipmentOption = None, json: options.JsonOption = False,
) -> None:
    """Plan a night: targets, filters and subs in the order that brings most, with the flips."""
    outputs.refuse_existing(ics, sheet, table, force)
    chosen_rig, chosen_site, date = options.chosen(equipment, rig, site, night)
    angle = lowest_altitude(lowest)
    stay, block, margin = (outputs.minutes(name, text) for name, text in (
        ("--least-stay", least_stay), ("--least-block", least_block), ("--flip-margin", flip_margin)))
    names = options.joined_names(target or [])
    rigs = options.rigs_at_once(equipment, chosen_rig, beside)
    listed = cache(lambda: wanted_targets(names, targets, chosen_site))  # one list for all rigs
    wanted = outputs.wishes(names, listed, rigs, project, targets, galaxy_hydrogen)
    from planner.files.forms.session import calibration_frames, moon_distances, night_moment
    from planner.files.targets.stars import stars_around
    from planner.session.night.limits import NightLimits, through
    from planner.session.night.plan import plan_night
    from planner.session.night.together import exchange_lines, night_brought, together

    if only is not None:
        names = [name.strip() for name in only.split(",") if name.strip()]
        wanted = [(one, list(through(requests, names, one, called="--filters"))) for one, requests in wanted]
    limits = NightLimits(begin=None if begin is None else night_moment("--from", begin, date, chosen_site),
                         until=None if until is None else night_moment("--until", until, date, chosen_site),
                         moon=moon_distances("--moon-distance", moon_distance or ""))
    frames = calibration_frames("--calibration", calibration or "")
    asked: dict[str, Any] = {"lowest_altitude": angle, "minimum_block": stay, "minimum_run": block,
                             "flip_margin": margin, "limits": limits, "calibration": frames}
    ahead = outputs.looks_ahead(look_ahead, clear, project)

    def answer(one: "Rig", requests: "Sequence[Request]") -> "tuple[NightPlan, Campaign | None]":
        around = partial(stars_around, rig=one)
        if not ahead:
            return plan_night(requests, one, chosen_site, date, stars_around=around, **asked), None
        from planner.session.campaign.ahead import CLEAR, plan_ahead

        share = CLEAR if clear is None else clear
        return plan_ahead(requests, one, chosen_site, date, clear=share, stars_around=around, **asked)

    with only_our_words():
        answers = together(wanted, answer, lambda found: night_brought(found[0]), chosen_site)
    for plan, _ in answers:
        files = [outputs.named_for(path, plan, answers) for path in (ics, sheet, table)]
        outputs.write_outputs(plan, files[0], files[1], files[2], force)
    if json:
        _print_json(answers)
        return
    for line in exchange_lines(wanted, chosen_site):
        options.note(line)
    for number, (plan, found) in enumerate(answers):
        if number:
            print()
        _show(plan)
        outputs.show_season(plan, found)


def _print_json(answers: "list[tuple[NightPlan, Campaign | None]]") -> None:
    """Print one document; those of rigs beside the first stand in it."""
    from planner.session.campaign.ahead import NightAnswer

    first, *others = [document(NightAnswer(plan, found)) for plan, found in answers]
    print_json(first | ({"beside": others} if others else {}))


def wanted_targets(names: list[str], path: Path | None, site: "Site") -> tuple["Target", ...]:
    """Return the targets named, else those of the list given, else the user's standing list, else the demo's."""
    from planner.files.projects.wanted import listed_targets, standing_list
    from planner.files.targets import find_target, find_targets

    if names and path is not None:
        found = {place.name: place for place in (find_target(name, targets=path) for name in names)}
        return tuple(found.values())
    if names:
        return find_targets(names)
    if path is not None:
        return listed_targets(path)
    standing = standing_list(site)
    if standing.is_demo:
        options.note("Planning the demo's target list; name targets of your own, or give a list with --targets.")
    return standing.targets


def _show(plan: "NightPlan") -> None:
    from planner.session.night.report.text import (
        FLIP_COLUMNS,
        TARGET_COLUMNS,
        bound_line,
        flip_rows,
        header_lines,
        rest_line,
        target_rows,
        timeline_lines,
    )
    from planner.session.night.report.words import cautions

    header = header_lines(plan)
    print_lines(*header)
    print_table("Targets", TARGET_COLUMNS, target_rows(plan), right=("highest", "planned", "counted"))
    if rest_line(plan):
        print_lines(rest_line(plan), "")
    if plan.reason:
        print_lines(*[plan.reason] * (plan.reason not in header))
        return
    heads, *lines = timeline_lines(plan)
    print_lines("Timeline", "", *([heads] if len(heads) <= console().width else []), *lines, "", hang=TIMES_WIDE)
    if plan.flips:
        print_table("Meridian flips: within which limits each target turns over to use all of its time",
                    FLIP_COLUMNS, flip_rows(plan))
    print_lines(bound_line(plan), *cautions(plan), LEGEND)
