"""`planner first-light`: what to measure, in which order, until the verdict stands."""

from typing import TYPE_CHECKING, Annotated

import typer

from planner.cli import options
from planner.cli.asked import LOWEST, FilterOption, LowestOption, lowest_altitude
from planner.cli.output import print_json, print_lines
from planner.fields import document

if TYPE_CHECKING:
    from planner.session.advice.first_light import FirstLight, MeasuringStep

app = options.new_app()


@app.command("first-light")
def first_light(
    target: Annotated[list[str], typer.Argument(help="What you want to image first: the verdict is for it.")],
    rig: options.RigOption = None, site: options.SiteOption = None, night: options.NightOption = None,
    band: FilterOption = None, lowest: LowestOption = LOWEST, targets: options.TargetsOption = None,
    equipment: options.EquipmentOption = None, json: options.JsonOption = False,
) -> None:
    """List what to measure, in order, until the verdict no longer hangs on what nobody knows."""
    chosen_rig, chosen_site, date = options.chosen(equipment, rig, site, night)
    from planner.files.targets import find_target
    from planner.files.targets.stars import stars_around
    from planner.session.advice.answer import advise, filter_named
    from planner.session.advice.first_light import FirstLightAnswer
    from planner.session.advice.first_light import first_light as steps_of
    from planner.session.advice.text import headline
    from planner.visibility.moving_targets import placed

    place = placed(find_target(" ".join(target), targets=targets), chosen_site, date)
    advice = advise(place, chosen_rig, chosen_site, date, band=filter_named(chosen_rig, band),
                    stars=stars_around(place, chosen_rig), lowest_altitude=lowest_altitude(lowest))
    found = steps_of(advice)
    if json:
        print_json(document(FirstLightAnswer(advice, found)))
        return
    print_lines(headline(advice) if found is None else found.verdict)
    print_lines(f'Rig "{chosen_rig.name}", site "{chosen_site.name}", night of {date}')
    if found is None:
        print_lines(advice.window.reason)
    else:
        _show(found)


def _show(found: "FirstLight") -> None:
    from planner.session.advice.first_light import COMMON, DONE, NEEDLESS

    print_lines(f"\n{found.sentence}\n")
    open_steps = [step for step in found.steps if step.state not in (DONE, NEEDLESS)]
    for number, step in enumerate(open_steps, start=1):
        _show_step(number, step)
    for state, words in ((DONE, "Measured already"), (NEEDLESS, "Not worth measuring for this target")):
        names = [step.task.title.lower() for step in found.steps if step.state == state]
        if names:
            print_lines(f"{words}: {', '.join(names)}.")
    if open_steps:
        print_lines("Care: " + " ".join(COMMON))


def _show_step(number: int, step: "MeasuringStep") -> None:
    from astropy import units as u

    gain = step.hours_per_night.to_value(u.h)
    size = f"{gain:.1f} h" if gain >= 0.95 else f"{gain * 60:.0f} min"
    print_lines(f"[ ] {number}. {step.task.title}, {step.minutes:.0f} minutes: worth {size} a night")
    for words, text in (("Point at", step.task.point), ("Record", step.task.recorded), ("Decides", step.task.decides),
                        *(("Care", caution) for caution in step.task.cautions)):
        print_lines(f"      {words + ':':<10} {text}")
    print_lines("")
