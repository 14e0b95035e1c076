"""What is said and drawn of each part of the pier: verdict, what mends it, pictures, figures, what is assumed."""

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

import pandas as pd
import streamlit as st

from planner.charts.pier import balance_chart, mode_chart, strength_chart, voltage_chart
from planner.exposure.reasons import percent
from planner.pier import BalancePlan, ColumnAnswer, ColumnResponse, HeaterNeed, PierSetup, Wiring
from planner.pier.cautions import BALANCE_CAUTIONS, COLUMN_CAUTIONS, POWER_CAUTIONS
from planner.pier.objection import CHECK, GOOD, UNSAFE, Objection
from planner.pier.wiring.cable import FUSE_RULE
from planner.ui.pier.assumed import show_assumed
from planner.ui.pier.draft import Draft, apply
from planner.ui.plain import plain

SUBJECTS = {"Balance": "the balance", "12 V": "the 12 V wiring", "Column": "the column"}
CAUTIONS = {"Balance": BALANCE_CAUTIONS, "12 V": POWER_CAUTIONS, "Column": COLUMN_CAUTIONS}
STAYED = 20.0  # °C, of the concrete since it was poured, until it is told


def show_balance(draft: Draft, setup: PierSetup, plan: BalancePlan) -> None:
    """Show the balance."""
    assembly = setup.require("assembly")
    _say(plan.verdict, plan.objections, "friction holds both axes wherever the tube points.")
    _suggest(plan.suggestions, "balance", setup, replace(setup, assembly=plan.moved) if plan.moves else None)
    st.markdown(listed(plan.notes))
    st.altair_chart(balance_chart(assembly, plan), width="stretch")
    before, after = plan.before, plan.after
    _metrics([
        ("Tube", f"{before.tube_mass.value:.1f} kg", _share(before.payload_share)),
        ("Left in declination", f"{before.declination_torque.value:.2f} N m",
         f"{after.declination_torque.value:.2f} after the moves"),
        ("Left in right ascension", f"{before.right_ascension_torque.value:.2f} N m",
         f"{after.right_ascension_torque.value:.2f} after the moves"),
        ("On the column", f"{before.pier_load.value:.0f} kg", None),
    ])
    show_assumed(draft, "Balance", plan.assumptions)


def show_wiring(draft: Draft, setup: PierSetup, wiring: Wiring, dew: HeaterNeed) -> None:
    """Show the 12 V tree."""
    tree, energy = setup.require("tree"), wiring.energy
    _say(wiring.verdict, wiring.objections,
         "every load has its voltage, every cable its fuse, and the supply gives enough.")
    mended = wiring.mended if wiring.verdict != GOOD else None
    _suggest(wiring.suggestions, "wiring", setup, None if mended is None else replace(setup, tree=mended))
    st.altair_chart(voltage_chart(tree, wiring), width="stretch")
    _metrics([
        ("Observing", f"{wiring.working.supply_current.value:.1f} A", None),
        ("All at peak", _number(wiring.worst.supply_current.value, 1, "A"), None),
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
    _say(answer.verdict, answer.objections, "nothing here tips, sinks, buckles, cracks or shakes.")
    mended = answer.standing.mended if answer.standing.objections else None
    _suggest(answer.standing.suggestions, "column", setup,
             None if mended is None else replace(setup, column=mended[0], footing=mended[1]))
    st.altair_chart(mode_chart(response), width="stretch")
    _metrics([
        ("First frequency", f"{response.motion.own_frequency.value:.1f} Hz",
         f"{response.rigid_foot.frequency[0].value:.1f} Hz on a rigid foot"),
        ("Stiffness at the top", f"{response.top_stiffness.value:.2f} N/µm",
         None if response.softer_way == "either way" else f"softer {response.softer_way}"),
        ("Column's share of the tilt", percent(response.column_share), "the rest is its foot"),
        ("Column", f"{column.mass.value:.0f} kg", None),
    ])
    st.markdown(listed([answer.told[-1], *answer.notes]))
    st.dataframe(_case_table(response), hide_index=True, width="stretch", key="pier_cases",
                 alt="What tilts the top of the column, and by how much a star moves.")
    st.caption("A star moves by the tilt of the top. A tilt that stays, such as a settled footing, is a polar error: "
               "of that size in altitude to the north, and a drift of at most the last column.")
    if age is not None:
        st.subheader("When may I bolt the mount down?", anchor=False)
        st.number_input("Concrete since poured (°C)", 0.0, 40.0, concrete_temperature(), 1.0, key="pier_concrete",
                        format="%g")
        st.altair_chart(strength_chart(age), width="stretch")
    show_assumed(draft, "Column", ())


def concrete_temperature() -> float:
    """Return what the concrete has had since it was poured [°C], as it was last told."""
    state = st.session_state
    state["pier_concrete_kept"] = state.get("pier_concrete", state.get("pier_concrete_kept", STAYED))
    return float(state["pier_concrete_kept"])


def _say(verdict: str, objections: tuple[Objection, ...], good: str) -> None:
    """Show the verdict on a part, with everything that speaks against it."""
    show = {GOOD: st.success, CHECK: st.warning, UNSAFE: st.error}[verdict]
    show(f"Good: {good}" if verdict == GOOD else listed(f"{one.part}: {one.finding}" for one in objections))


def _suggest(lines: tuple[str, ...], part: str, setup: PierSetup, after: PierSetup | None) -> None:
    """Show what to do, and the button that tries it."""
    if lines:
        st.markdown(listed(lines))
    if after is not None:
        st.button("Apply all of it, to see the result", key=f"pier_apply_{part}", on_click=apply, args=(setup, after),
                  help="Nothing is saved before you save it.")


def _cable_table(wiring: Wiring) -> pd.DataFrame:
    wanted = {change.name: change for change in wiring.changes}
    rows = []
    for report in wiring.cables:
        change = wanted.get(report.name)
        fuse = report.cable.fuse if change is None or change.fuse is None else change.fuse
        rows.append({
            "cable": report.name, "length (m)": report.cable.length.value, "mm²": report.cable.cross_section.value,
            "peak (A)": round(report.current.value, 1), "may carry (A)": round(report.carries.value, 1),
            "drop (V)": round(report.drop.value, 2),
            "fuse (A)": None if report.cable.fuse is None else report.cable.fuse.value,
            "take mm²": report.cable.cross_section.value if change is None else change.wanted.value,
            "take fuse (A)": None if fuse is None else fuse.value})
    return pd.DataFrame(rows)


def _case_table(response: ColumnResponse) -> pd.DataFrame:
    return pd.DataFrame([{
        "cause": case.name, "star moves (″)": round(case.bending.angle.value, 2),
        "top (µm)": round(case.bending.deflection.value, 1),
        "drift (″/h)": round(case.tilted_north.drift_rate.value, 2),
    } for case in response.cases])


def _metrics(figures: list[tuple[str, str, str | None]]) -> None:
    for column, (label, value, below) in zip(st.columns(len(figures)), figures, strict=True):
        column.metric(label, value)
        if below:
            column.caption(below)


def listed(lines: Iterable[str]) -> str:
    """Return lines as a list, each from a capital on."""
    return "\n".join(f"- {plain(line[:1].upper() + line[1:])}" for line in lines)


def _share(share: float | None) -> str | None:
    return None if share is None else f"{percent(share)} of the rated load"


def _number(value: Any, digits: int, unit: str = "") -> str:
    return f"{value:.{digits}f} {unit}".strip() if value == value else "none"
