"""What is said and drawn of each part of the pier: verdict, what mends it, pictures, figures, what is assumed."""

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

import pandas as pd
import streamlit as st
from astropy import units as u

from planner.charts.pier import balance_chart, column_chart, mode_chart, strength_chart, tree_chart
from planner.checks import Rule
from planner.exposure.reasons import percent
from planner.pier import BalancePlan, ColumnAnswer, ColumnResponse, HeaterNeed, PierSetup, Wiring
from planner.pier.cautions import BALANCE_CAUTIONS, COLUMN_CAUTIONS, POWER_CAUTIONS
from planner.pier.objection import CHECK, GOOD, UNSAFE, two_digits
from planner.pier.wiring.cable import FUSE_RULE
from planner.ui.drawing import draw
from planner.ui.lines import draw_lines
from planner.ui.pier.assumed import show_assumed
from planner.ui.pier.draft import Draft, apply
from planner.ui.plain import plain
from planner.ui.settings import number

SUBJECTS = {"Balance": "the balance", "12 V": "the 12 V wiring", "Column": "the column"}
CAUTIONS = {"Balance": BALANCE_CAUTIONS, "12 V": POWER_CAUTIONS, "Column": COLUMN_CAUTIONS}
WORDS = {GOOD: "Good", CHECK: "Look again", UNSAFE: "Unsafe"}
CONCRETE = Rule(at_least=0, at_most=40, remedy="Give degrees Celsius, e.g. 12.")
STAYED = 20.0  # °C, of the concrete since it was poured, until it is told


def show_balance(draft: Draft, setup: PierSetup, plan: BalancePlan) -> None:
    """Show the balance."""
    assembly = setup.require("assembly")
    _say(plan)
    _suggest(plan.suggestions, "balance", setup, replace(setup, assembly=plan.moved) if plan.moves else None)
    st.markdown(listed(plan.notes))
    _picture(balance_chart(assembly, plan), "Tube and weights", "Blue: what rides on the saddle, larger for more mass, "
             "or by its length and width. Orange: weights on the bar, wider for more mass. Dashed: "
             "after the moves. Cross: where the tube's mass is centred.")
    before, after = plan.before, plan.after
    draw_lines(st, [
        ("Tube", f"{before.tube_mass.value:.1f} kg", *_share(before.payload_share)),
        ("Left in declination", *_left(plan, before.declination_torque, after.declination_torque)),
        ("Left in right ascension", *_left(plan, before.right_ascension_torque, after.right_ascension_torque)),
        ("On the column", f"{before.pier_load.value:.0f} kg"),
    ])
    show_assumed(draft, "Balance", plan.assumptions)


def show_wiring(draft: Draft, setup: PierSetup, wiring: Wiring, dew: HeaterNeed) -> None:
    """Show the 12 V tree."""
    tree, energy = setup.require("tree"), wiring.energy
    _say(wiring)
    mended = wiring.mended if wiring.verdict != GOOD else None
    _suggest(wiring.suggestions, "wiring", setup, None if mended is None else replace(setup, tree=mended))
    _picture(tree_chart(tree, wiring), "Who is fed by what", "The voltage that arrives while observing, and at worst: "
             "everything at its peak, the supply at its lowest. A triangle: not what the device takes.")
    draw_lines(st, [
        ("Observing", f"{wiring.working.supply_current.value:.1f} A"),
        ("All at peak", _number(wiring.worst.supply_current.value, 1, "A")),
        ("The night takes", _number(energy.energy.value, 0, "Wh"), _number(energy.charge.value, 0, "Ah")),
        ("Dew margin", f"{dew.dew_margin.value:.1f} K", f"dew point {dew.dew_point.value:.1f} °C"),
    ])
    st.markdown(listed([energy.reason]))
    st.dataframe(_cable_table(wiring), hide_index=True, width="stretch", key="pier_cables",
                 alt="Each cable with its current, what it may carry, its drop and its fuse.")
    st.caption(FUSE_RULE)
    show_assumed(draft, "12 V", wiring.assumptions)


def show_column(draft: Draft, setup: PierSetup, answer: ColumnAnswer) -> None:
    """Show the column and what it stands on."""
    column, response, age = setup.require("column"), answer.response, answer.age
    _say(answer)
    standing = answer.standing
    others = [one.remedy for one in answer.objections if standing.mended is None or one not in standing.objections]
    _suggest(tuple(dict.fromkeys([*standing.suggestions, *others])), "column", setup, _mended(setup, answer))
    left, right = st.columns(2)
    with left:
        _picture(column_chart(column, setup.footing, setup.loads), "The column on its foot", "From the side, to scale; "
                 "the dashed line is the ground.", width="content")
    with right:
        _picture(mode_chart(response), "How it swings", "The shape of its slowest swing, sideways much enlarged: on "
                 "its foot as it stands, and on one that does not give.")
    draw_lines(st, [
        ("First frequency", f"{response.motion.own_frequency.value:.1f} Hz",
         f"{response.rigid_foot.frequency[0].value:.1f} Hz on a rigid foot"),
        ("Stiffness at the top", f"{response.top_stiffness.value:.2f} N/µm",
         "" if response.softer_way == "either way" else f"softer {response.softer_way}"),
        ("Column's share of the tilt", percent(response.column_share), "the rest is its foot"),
        ("Column", f"{column.mass.value:.0f} kg"),
    ])
    st.markdown(listed([answer.judged[-1], *answer.notes]))
    st.dataframe(_case_table(response), hide_index=True, width="stretch", key="pier_cases",
                 alt="What tilts the top of the column, and by how much a star moves.")
    st.caption("A star moves by the tilt of the top. A tilt that stays, such as a settled footing, is a polar error: "
               "of that size in altitude to the north, and a drift of at most the last column.")
    if age is not None:
        st.subheader("When may I bolt the mount down?", anchor=False)
        number("concrete", "Concrete since poured (°C)", STAYED, CONCRETE)
        _picture(strength_chart(age), "Strength by age", "Share of the strength at 28 days; the point is the first day "
                 "for the bolts.")
    show_assumed(draft, "Column", ())


def _picture(chart: Any, name: str, sentence: str, width: str = "stretch") -> None:
    """Show a picture with its name, and what it shows in a sentence."""
    st.markdown(f"**{name}**")
    draw(st, chart.properties(description=f"{name}. {sentence}"), f"pier_{name}", width=width)
    st.caption(sentence)


def concrete_temperature() -> float:
    """Return what the concrete has had since it was poured [°C], as it was last told."""
    kept = st.session_state.get("choice_concrete")
    return STAYED if kept is None else float(kept)


def _mended(setup: PierSetup, answer: ColumnAnswer) -> PierSetup | None:
    """Return the pier with all advice taken; what only the place can tell is not made up."""
    if answer.standing.mended is None or not answer.standing.objections:
        return None
    column, footing = answer.standing.mended
    told: dict[str, Any] = {key: None for key in ("frost_depth", "slab_reach") if getattr(setup.footing, key) is None}
    return replace(setup, column=column, footing=replace(footing, **told))


def _say(answer: BalancePlan | Wiring | ColumnAnswer) -> None:
    """Show the verdict on a part, with everything that speaks against it."""
    show, word = {GOOD: st.success, CHECK: st.warning, UNSAFE: st.error}[answer.verdict], WORDS[answer.verdict]
    show(f"**{word}**: {answer.good}" if answer.verdict == GOOD else
         f"**{word}**\n{listed(f'{one.part}: {one.finding}' for one in answer.objections)}")


def _suggest(lines: tuple[str, ...], part: str, setup: PierSetup, after: PierSetup | None) -> None:
    """Show what to do, and the button that tries it."""
    if lines:
        st.markdown(listed(lines))
    if after is not None and after != setup:
        st.button("Apply all of it, to see the result", key=f"pier_apply_{part}", on_click=apply, args=(setup, after),
                  help="Nothing is saved before you save it.")


def _left(plan: BalancePlan, before: u.Quantity[u.N * u.m], after: u.Quantity[u.N * u.m]) -> list[str]:
    moved = [f"{after.value:.2f} after the moves"] if plan.moves else []
    return [f"{before.value:.2f} N m", *moved]


def _cable_table(wiring: Wiring) -> pd.DataFrame:
    taken = [report.cable for report in wiring.cables] if wiring.mended is None else wiring.mended.cables
    return pd.DataFrame([{
        "cable": report.name, "length (m)": report.cable.length.value, "mm²": report.cable.cross_section.value,
        "peak (A)": round(report.current.value, 1), "may carry (A)": round(report.carries.value, 1),
        "drop (V)": round(report.drop.value, 2),
        "fuse (A)": None if report.cable.fuse is None else report.cable.fuse.value,
        "take mm²": take.cross_section.value,
        "take fuse (A)": None if take.fuse is None else take.fuse.value,
    } for report, take in zip(wiring.cables, taken, strict=True)])


def _case_table(response: ColumnResponse) -> pd.DataFrame:
    return pd.DataFrame([{
        "cause": case.name, "star moves (″)": two_digits(case.bending.angle).value,
        "top (µm)": two_digits(case.bending.deflection).value,
        "drift (″/h)": two_digits(case.tilted_north.drift_rate).value,
    } for case in response.cases])


def listed(lines: Iterable[str]) -> str:
    """Return lines as a list, each from a capital on."""
    return "\n".join(f"- {plain(line[:1].upper() + line[1:])}" for line in lines)


def _share(share: float | None) -> list[str]:
    return [] if share is None else [f"{percent(share)} of the rated load"]


def _number(value: Any, digits: int, unit: str = "") -> str:
    return f"{value:.{digits}f} {unit}".strip() if value == value else "none"
