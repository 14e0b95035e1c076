"""`planner pier`: does it balance, does 12 V arrive, does the column stand still."""

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import Annotated, Any

import typer

from planner.checks import Rule
from planner.cli.options import EquipmentOption, JsonOption, NightOption, SiteOption, new_app, night_date
from planner.cli.output import note, print_check, print_json, print_lines, print_table
from planner.cli.pier.sway import sway
from planner.exposure.reasons import percent
from planner.fields import document
from planner.files.equipment import load_equipment
from planner.files.equipment.start import REMARK
from planner.files.pier import check_pier, load_pier, pier_path
from planner.files.pier.load import pier_examples
from planner.pier import PierSetup
from planner.pier.cautions import BALANCE_CAUTIONS, COLUMN_CAUTIONS, POWER_CAUTIONS, OfPier
from planner.pier.objection import two_digits
from planner.signs import minus

app = new_app()
app.command()(sway)
DEMO_NOTE = "Using the packaged demo pier; name your own file with --pier, or put pier.toml beside your equipment file."
PierOption = Annotated[
    Path | None, typer.Option("--pier", metavar="FILE", help="Pier file, instead of your own or the demo.")
]


@app.callback()
def pier() -> None:
    """Say whether the pier balances, whether 12 V arrives, and whether the column stands still."""


@app.command()
def balance(
    swap: Annotated[str | None, typer.Option("--swap", metavar="PART", help="Part to replace, e.g. camera.")] = None,
    add: Annotated[str | None, typer.Option("--add", metavar="NAME", help="Part to add, e.g. heater.")] = None,
    mass: Annotated[str | None, typer.Option("--mass", metavar="MASS", help='Of the new part, "1.1 kg".')] = None,
    along: Annotated[str | None, typer.Option(
        "--along", metavar="DISTANCE", help='Its centre from the declination axis, towards the sky, "270 mm".')] = None,
    height: Annotated[str | None, typer.Option(
        "--height", metavar="DISTANCE", help='Its centre above the face of the saddle, "300 mm".')] = None,
    pier: PierOption = None, json: JsonOption = False,
) -> None:
    """Balance of tube and counterweights on both axes, and what to move."""
    from planner.pier import plan_balance

    setup = _open(pier, "assembly")
    given = {"mass": mass, "along": along, "height": height}
    plan = plan_balance(_changed(setup.assembly, swap, add, given), latitude=setup.latitude, column=setup.column,
                        footing=setup.footing)
    _note_demo(setup, pier)
    if json:
        print_json(document(OfPier(pier=setup.name, cautions=BALANCE_CAUTIONS), plan))
        return
    rows = [(label, *(f"{_shown(getattr(side, field)):{style}}" for side in (plan.before, plan.after)))
            for label, field, style in (
                ("declination: tube's centre towards the sky (mm)", "centre_along", "z.0f"),
                ("declination torque left (N m)", "declination_torque", ".2f"),
                ("right ascension: tube heavy (kg mm)", "right_ascension_moment", "z.0f"),
                ("right-ascension torque left (N m)", "right_ascension_torque", ".2f"),
                ("friction holds (N m)", "friction", ".2f"),
                ("load on the column (kg)", "pier_load", ".1f"))]
    _print_with_cautions((f"Verdict: {plan.verdict}.", *plan.lines), ())
    print_table(f'Balance of "{setup.name}"', ("", "now", "after the moves"), rows, right=("now", "after the moves"))
    _print_with_cautions(plan.assumptions, BALANCE_CAUTIONS)


@app.command()
def power(
    temperature: Annotated[str | None, typer.Option("--temperature", metavar="T", help='Air, "-5 deg_C".')] = None,
    humidity: Annotated[float | None, typer.Option("--humidity", metavar="SHARE", help="Relative, 0 to 1.")] = None,
    hours: Annotated[str | None, typer.Option("--hours", metavar="TIME", help="From on to off, in h.")] = None,
    night: NightOption = None, site: SiteOption = None, equipment: EquipmentOption = None, pier: PierOption = None,
    json: JsonOption = False,
) -> None:
    """Voltage at every load of the 12 V tree, cables and fuses, and the energy of the night.

    With --night the duration is the dark time of that night at the site.
    """
    from planner.pier import heater_power, judge_wiring

    if night is not None and hours is None:
        hours = _dark_hours(equipment, site, night)
    setup = _open(pier, "tree")
    tree, conditions = setup.tree, _conditions(setup, temperature, humidity, hours)
    wiring = judge_wiring(tree, conditions)
    dew = heater_power(100 * _unit("mm"), temperature=conditions.temperature, humidity=conditions.humidity)
    told = document(OfPier(pier=setup.name, cautions=POWER_CAUTIONS), wiring, dew)
    _note_demo(setup, pier)
    if json:
        print_json(told)
        return
    _print_with_cautions((f"Verdict: {wiring.verdict}.", *wiring.lines), ())
    _show_power(told)
    _print_with_cautions(("Assumed:", *(f"  {line}" for line in wiring.assumptions)), POWER_CAUTIONS)


@app.command()
def column(
    temperature: Annotated[str, typer.Option("--concrete-temperature", metavar="T",
                                             help="Mean of the concrete since it was poured.")] = "20 deg_C",
    pier: PierOption = None, json: JsonOption = False,
) -> None:
    """Whether the pier stands and stands still, what pushes it, and when its concrete bears bolts."""
    from planner.pier import judge_column

    setup = _open(pier, "column")
    celsius = _quantity("concrete-temperature", temperature, Rule(unit=_unit("deg_C"), kind="quantity"))
    answer = judge_column(setup.column, setup.footing, setup.loads, latitude=setup.latitude,
                          concrete_temperature=celsius)
    _note_demo(setup, pier)
    if json:
        print_json(document(OfPier(pier=setup.name, cautions=COLUMN_CAUTIONS), answer))
        return
    _print_with_cautions((f"Verdict: {answer.verdict}.", *answer.lines), ())
    _show_column(setup, answer)
    _print_with_cautions((), COLUMN_CAUTIONS)


@app.command()
def check(pier: PierOption = None, json: JsonOption = False) -> None:
    """Check the pier file and name every problem in it."""
    path, problems = pier_path(pier), check_pier(pier)
    left = [] if problems else pier_examples(pier)
    remarks = [f"{', '.join(left)} {'is' if len(left) == 1 else 'are'} {REMARK}"] if left else []
    print_check(path, problems, remarks, json)


@app.command()
def init(
    file: Annotated[Path | None, typer.Option("--file", metavar="FILE", help="Where to write it, instead of the folder "
                                              "of your settings.")] = None,
    json: JsonOption = False,
) -> None:
    """Write a commented pier file to start from; an existing file is never overwritten."""
    from planner.cli.equipment.init import begin

    begin("pier", file, json=json)


def _open(path: Path | None, part: str) -> Any:
    """Return the pier, which must describe that part."""
    setup = load_pier(path)
    setup.require(part)
    return setup


def _note_demo(setup: PierSetup, path: Path | None) -> None:
    """Say on stderr that the answer is for the packaged demo or holds examples, once there is an answer."""
    if setup.is_demo:
        note(DEMO_NOTE)
    elif pier_examples(path):
        note('Still examples of the starting file are in the pier file; "planner pier check" names them.')


def _changed(assembly: Any, old: str | None, new: str | None, given: dict[str, str | None]) -> Any:
    """Return the assembly with a part swapped or added; the texts in `given` are its mass and place."""
    from planner.errors import InvalidInputError
    from planner.pier import TubePart, add, swap

    texts = {key: text for key, text in given.items() if text is not None}
    if old is None and new is None:
        if texts:
            key, text = next(iter(texts.items()))
            raise InvalidInputError(key, text, "needs --swap or --add", "Name the part: --swap camera.")
        return assembly
    if old is not None and new is not None:
        raise InvalidInputError("add", new, "cannot go with --swap", "Ask for one change at a time.")
    if "mass" not in texts:
        raise InvalidInputError("swap" if new is None else "add", old or new, "needs --mass",
                                'Give the mass of the new part: --mass "1.1 kg".')
    rules = {item.name: item.metadata["rule"] for item in TubePart.__dataclass_fields__.values()}
    values = {key: _quantity(key, text, rules[key]) for key, text in texts.items()}
    if old is not None:
        return swap(assembly, old, **values)
    return add(assembly, TubePart(name=str(new), **{"along": 0 * _unit("mm"), **values}))


def _conditions(setup: Any, temperature: str | None, humidity: float | None, hours: Any) -> Any:
    rule = Rule(unit=_unit("deg_C"), kind="quantity")
    changed: dict[str, Any] = {}
    if temperature is not None:
        changed["temperature"] = _quantity("temperature", temperature, rule)
    if humidity is not None:
        changed["humidity"] = humidity
    if hours is not None:
        changed["duration"] = hours if not isinstance(hours, str) else _quantity(
            "hours", hours, Rule(unit=_unit("h"), kind="quantity", more_than=0, at_most=48))
    return replace(setup.conditions, **changed)


def _dark_hours(equipment: Path | None, site: str | None, night: str) -> Any:
    """Return the hours of darkness of a night at a site; no dark time is refused with its reason."""
    from planner.errors import InvalidInputError
    from planner.visibility import night as night_of

    place = load_equipment(equipment).site(site)
    found = night_of(place, night_date(night, place))
    if found.dark is None:
        raise InvalidInputError("night", night, f"has no dark time ({found.reason})", "Give the duration with --hours.")
    start, end = found.dark
    note(f'Duration: the dark time of that night at "{place.name}".')
    return (end - start).to("h")


def _quantity(name: str, text: str, rule: Rule) -> Any:
    from planner.files.quantities import parse_option

    return parse_option(name, text, rule)


def _unit(name: str) -> Any:
    from astropy import units as u

    return u.Unit(name)


def _shown(value: Any) -> float:
    return float(value.value)


def _show_power(told: dict[str, Any]) -> None:
    rows = [(item["name"], f"{item['working_power_W']:.1f}", f"{item['peak_power_W']:.0f}",
             _number(item["working_voltage_V"], 2), _number(item["lowest_voltage_V"], 2),
             f"{item['minimum_voltage_V']:g}", item["verdict"]) for item in told["loads"]]
    air, dew = (minus(f"{told[key]:.3g} °C") for key in ("temperature_deg_C", "dew_point_deg_C"))
    print_table(f'12 V tree of "{told["pier"]}", {air}, dew point {dew}',
                ("load", "works W", "peak W", "works at V", "lowest V", "needs V", "verdict"), rows,
                right=("works W", "peak W", "works at V", "lowest V", "needs V"))
    cables = [(item["name"], f"{item['length_m']:g} m", f"{item['cross_section_mm2']:g} mm²",
               _number(item["current_A"], 1), _number(item["carries_A"], 1), _number(item["drop_V"], 2),
               _ampere(item["fitted_A"])) for item in told["cables"]]
    print_table("Cables, everything at its peak and the supply at its lowest",
                ("cable", "one way", "section", "A", "may carry A", "drop V", "its fuse"), cables,
                right=("A", "may carry A", "drop V", "its fuse"))
    energy = told["energy"]
    if energy["energy_Wh"] == energy["energy_Wh"]:
        print_lines(f"The night takes {energy['energy_Wh']:.0f} Wh ({energy['charge_Ah']:.0f} Ah).")
    if energy["lasts"] is not False:  # an objection says it already
        print_lines(energy["reason"])


def _ampere(value: float | None) -> str:
    return "none" if value is None else f"{value:g} A"


def _number(value: float, digits: int) -> str:
    return f"{value:.{digits}f}" if value == value else "none"


def _show_column(setup: PierSetup, answer: Any) -> None:
    checks = [(check.part, check.name,
               "too much" if check.share >= 99 else percent(check.share) if check.share >= 0.01 else "under 1 %")
              for check in answer.standing.checks if 0 < check.share < float("inf")]
    print_table(f'Column of "{setup.name}": what it bears', ("part", "", "of what it bears"), checks,
                right=("of what it bears",))
    response, age = answer.response, answer.age
    rows = [(case.name, f"{two_digits(case.bending.angle).value:g}″", f"{two_digits(case.bending.deflection).value:g}",
             *(minus(f"{two_digits(error).value:+g}″") for error in (case.tilted_north.altitude_error,
                                                               case.tilted_east.azimuth_error)),
             f"{two_digits(case.tilted_north.drift_rate).value:g}") for case in response.cases]
    if rows:
        print_table("What tilts its top, and the polar axis with it",
                    ("cause", "star moves", "top µm", "altitude if north", "azimuth if east", "drift ″/h"), rows,
                    right=("star moves", "top µm", "altitude if north", "azimuth if east", "drift ″/h"))
    if age is not None:
        print_table("Concrete by age", ("days", "share of 28-day strength", "mean strength MPa"), [
            (f"{day:g}", percent(share), f"{strength:.0f}") for day, share, strength in
            zip(age.age.value, age.strength_share, age.mean_strength.value, strict=True) if share == share])


def _print_with_cautions(answers: Iterable[str], cautions: Iterable[str]) -> None:
    if answers:
        print_lines(*answers)
    if cautions:
        print_lines("\nCaution:", *(f"  {line}" for line in cautions))
