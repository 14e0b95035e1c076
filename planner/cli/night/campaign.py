"""`planner campaign`: all projects over the coming months, what tonight is for, and the odds of each."""

from functools import cache, partial
from typing import TYPE_CHECKING, Annotated

import typer

from planner.cli import options
from planner.cli.asked import LOWEST, LowestOption, lowest_altitude
from planner.cli.night.outputs import show_season, wishes
from planner.cli.output import print_json, print_lines, print_table
from planner.fields import document

if TYPE_CHECKING:
    from planner.session.campaign.campaign import Campaign
    from planner.session.night.model import NightPlan

app = options.new_app()


@app.command()
def campaign(
    target: Annotated[list[str] | None, typer.Argument(
        help="Targets; those of your projects if none, else of your list, else the demo's.")] = None,
    rig: options.RigOption = None, beside: options.BesideOption = None, site: options.SiteOption = None,
    night: options.NightOption = None,
    nights: Annotated[int, typer.Option("--nights", metavar="N", help="How many, from that night on, 1 to 366.")] = 120,
    clear: Annotated[float, typer.Option(metavar="SHARE", help="Share of later nights that are clear.")] = 0.4,
    lowest: LowestOption = LOWEST, targets: options.TargetsOption = None,
    project: options.ProjectOption = None, equipment: options.EquipmentOption = None,
    shown: Annotated[int, typer.Option("--calendar", metavar="N", min=0, help="Nights of the calendar to print.")] = 14,
    json: options.JsonOption = False,
) -> None:
    """Deal out the coming nights among all projects: what tonight is for, and what will be finished with what odds."""
    chosen_rig, chosen_site, date = options.chosen(equipment, rig, site, night)
    from planner.cli.night.night import wanted_targets
    from planner.files.targets.stars import stars_around
    from planner.session.campaign.ahead import plan_ahead
    from planner.session.campaign.answer import CampaignAnswer
    from planner.session.night.together import exchange_lines, shared_out

    names = options.joined_names(target or [])
    listed = cache(lambda: wanted_targets(names, targets, chosen_site))  # one list for all rigs
    wanted = wishes(names, listed, options.rigs_at_once(equipment, chosen_rig, beside), project, targets)
    angle = lowest_altitude(lowest)
    answers = [plan_ahead(requests, one, chosen_site, date, nights=nights, clear=clear, lowest_altitude=angle,
                          stars_around=partial(stars_around, rig=one))
               for one, requests in shared_out(wanted, chosen_site)]
    if json:
        first, *others = [document(CampaignAnswer(found, plan)) for plan, found in answers]
        print_json(first | ({"beside": others} if others else {}))
        return
    if len(answers) > 1:
        for line in ("What is left is shared out so that all rigs that have the filter work on it for as long.",
                     *exchange_lines(wanted, chosen_site)):
            options.note(line)
    for plan, found in answers:
        _show(plan, found, shown)


def _show(plan: "NightPlan", found: "Campaign", shown: int) -> None:
    """Print what becomes of each project, what tonight is for, and the calendar."""
    from planner.session.campaign.answer import COLUMNS, project_rows
    from planner.session.campaign.outlook import CALENDAR_COLUMNS, advice, calendar, calendar_rows, weather_line

    print_lines(f'Nights of {found.dates[0]} to {found.dates[-1]}, site "{found.site.name}", '
                f'rig "{found.rig.name}". {weather_line(found)}')
    print_table("Projects", COLUMNS, project_rows(found), right=("finished",))
    if plan.blocks:
        show_season(plan, found, all_needs=False)
    else:
        print_lines("Tonight, if it is clear: nothing that is wanted is up in the dark.")
    print_lines(*advice(found))
    if shown:
        print_table("Calendar: the plan of the first night; what others are for if clear, on average of the seasons",
                    CALENDAR_COLUMNS, calendar_rows(calendar(found, plan)[:shown]), right=("dark", "Moon"))
