"""The pier: does it balance, does 12 V arrive, does the column stand still."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any, TypeVar

import pandas as pd
import streamlit as st
from astropy import units as u

from planner.charts.pier import balance_chart, mode_chart, strength_chart, voltage_chart
from planner.errors import PlannerError
from planner.exposure.reasons import percent
from planner.files.pier import load_pier, pier_path
from planner.pier import (
    Assembly,
    BalancePlan,
    Column,
    ColumnAnswer,
    ColumnResponse,
    Conditions,
    HeaterNeed,
    PierSetup,
    PowerTree,
    TubePart,
    Wiring,
    add,
    heater_power,
    judge_column,
    judge_wiring,
    plan_balance,
    swap,
)
from planner.pier.cautions import BALANCE_CAUTIONS, COLUMN_CAUTIONS, POWER_CAUTIONS
from planner.pier.objection import CHECK, GOOD, UNSAFE
from planner.pier.wiring.cable import FUSE_RULE
from planner.ui.pier_forms import (
    AS_IT_IS,
    ONE_MORE,
    BalanceForm,
    ColumnForm,
    PowerForm,
    balance_form,
    column_form,
    power_form,
)

Answer = TypeVar("Answer")


@st.cache_resource(max_entries=4, show_spinner=False)
def pier_at(file: str) -> PierSetup:
    """Return the pier in use; `file` changes when the file does."""
    return load_pier()


@st.cache_data(max_entries=200, show_spinner=False)
def balance_for(form: BalanceForm) -> tuple[Assembly, BalancePlan]:
    """Return the assembly of the form and its balance."""
    setup = pier_at(form.file)
    assembly = setup.require("assembly")
    new = {"mass": form.mass_kg * u.kg, "along": form.along_mm * u.mm, "height": form.height_mm * u.mm}
    if form.part == ONE_MORE:
        assembly = add(assembly, TubePart(name=ONE_MORE, **new))
    elif form.part != AS_IT_IS:
        assembly = swap(assembly, form.part, **new)
    weights = tuple(replace(weight, position=position * u.mm)
                    for weight, position in zip(assembly.counterweights, form.positions_mm, strict=True))
    assembly = replace(assembly, counterweights=weights)
    return assembly, plan_balance(assembly, latitude=setup.latitude)


@st.cache_data(max_entries=200, show_spinner=False)
def power_for(form: PowerForm) -> tuple[PowerTree, Wiring, HeaterNeed]:
    """Return the tree of the form, judged, and the dew."""
    tree = pier_at(form.file).require("tree")
    conditions = Conditions(temperature=form.temperature_deg_c * u.deg_C, humidity=form.humidity_percent / 100,
                            duration=form.duration_h * u.h)
    tree = replace(tree, cables=tuple(
        replace(cable, cross_section=form.section_mm2 * u.mm**2) if cable.called == form.cable else cable
        for cable in tree.cables))
    dew = heater_power(100 * u.mm, temperature=conditions.temperature, humidity=conditions.humidity)
    return tree, judge_wiring(tree, conditions), dew


@st.cache_data(max_entries=200, show_spinner=False)
def column_for(form: ColumnForm) -> tuple[Column, ColumnAnswer]:
    """Return the column of the form and the answer about it."""
    setup = pier_at(form.file)
    wall = None if form.wall_mm == 0 else form.wall_mm * u.mm
    column = replace(setup.require("column"), height=form.height_m * u.m, width=form.width_mm * u.mm, wall=wall)
    footing = replace(setup.footing, kind=form.footing, shear_wave_speed=form.soil_m_per_s * u.m / u.s)
    loads = replace(setup.loads, wind_speed=form.wind_m_per_s * u.m / u.s, push=form.push_n * u.N)
    return column, judge_column(column, footing, loads, latitude=setup.latitude,
                                concrete_temperature=form.concrete_deg_c * u.deg_C)


def page() -> None:
    """Show the page."""
    st.header("Will the pier stand, the weights balance and 12 V arrive?", anchor=False)
    file = pier_path()
    stamp = f"{file}|{file.stat().st_mtime_ns}" if file.exists() else ""
    setup = _tried(lambda: pier_at(stamp))
    if setup is None:
        return
    if setup.is_demo:
        st.caption("This is the packaged demo pier, invented for trying things out. Write your own as `pier.toml` "
                   "beside your equipment file.")
    parts = [("Balance", setup.assembly, _balance), ("12 V", setup.tree, _power), ("Column", setup.column, _column)]
    for tab, (_, described, show) in zip(st.tabs([name for name, *_ in parts]), parts, strict=True):
        with tab:
            if described is None:
                st.info("The pier file does not describe this part.")
            else:
                show(setup, stamp)


def _tried(call: Callable[[], Answer]) -> Answer | None:
    """Return the answer, or show the one line that says what is wrong and return None."""
    try:
        return call()
    except PlannerError as error:
        st.error(str(error))
        return None


def _balance(setup: PierSetup, stamp: str) -> None:
    with st.expander("Swap or add a part, move a weight"):
        form = balance_form(setup, stamp)
    found = _tried(lambda: balance_for(form))
    if found is None:
        return
    assembly, plan = found
    st.markdown(_list(plan.suggestions))
    _metrics([
        ("Tube", f"{plan.before.tube_mass.value:.1f} kg", _share(plan.before.payload_share)),
        ("Left in declination", f"{plan.before.declination_torque.value:.2f} N m",
         f"{plan.after.declination_torque.value:.2f} after the moves"),
        ("Left in right ascension", f"{plan.before.right_ascension_torque.value:.2f} N m",
         f"{plan.after.right_ascension_torque.value:.2f} after the moves"),
        ("On the column", f"{plan.before.pier_load.value:.0f} kg", None),
    ])
    st.altair_chart(balance_chart(assembly, plan), width="stretch")
    st.caption("Filled: as it is, larger for more mass. Hollow: after the moves. Cross: where the tube's mass is "
               "centred. Dashed: the right-ascension axis; weights to its left.")
    _cautions(BALANCE_CAUTIONS)


def _power(setup: PierSetup, stamp: str) -> None:
    with st.expander("The night, and another cable"):
        form = power_form(setup, stamp)
    found = _tried(lambda: power_for(form))
    if found is None:
        return
    tree, wiring, dew = found
    energy = wiring.energy
    _verdict(wiring.verdict, wiring.lines)
    _metrics([
        ("Observing", f"{wiring.working.supply_current.value:.1f} A", None),
        ("All at peak", _number(wiring.worst.supply_current.value, 1, "A"), None),
        ("The night takes", _number(energy.energy.value, 0, "Wh"), _number(energy.charge.value, 0, "Ah")),
        ("Dew margin", f"{dew.dew_margin.value:.1f} K", f"dew point {dew.dew_point.value:.1f} °C"),
    ])
    st.altair_chart(voltage_chart(tree, wiring), width="stretch")
    st.caption("Tick: the least a load needs. Assumed: " + " ".join(wiring.assumptions))
    st.dataframe(_cable_table(wiring), hide_index=True, width="stretch", key="pier_cables")
    st.caption(FUSE_RULE)
    _cautions(POWER_CAUTIONS)


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


def _column(setup: PierSetup, stamp: str) -> None:
    with st.expander("Another column, footing, wind"):
        form = column_form(setup, stamp)
    found = _tried(lambda: column_for(form))
    if found is None:
        return
    column, answer = found
    response, age = answer.response, answer.age
    _verdict(answer.verdict, answer.told)
    st.markdown(_list(answer.notes))
    _metrics([
        ("First frequency", f"{response.motion.own_frequency.value:.1f} Hz",
         f"{response.rigid_foot.frequency[0].value:.1f} Hz on a rigid foot"),
        ("Stiffness at the top", f"{response.top_stiffness.value:.2f} N/µm",
         None if response.softer_way == "either way" else f"softer {response.softer_way}"),
        ("Column's share of the tilt", percent(response.column_share), "the rest is its foot"),
        ("Column", f"{column.mass.value:.0f} kg", None),
    ])
    left, right = st.columns(2)
    with left:
        st.altair_chart(mode_chart(response), width="stretch")
    with right:
        st.dataframe(_case_table(response), hide_index=True, width="stretch", key="pier_cases")
        st.caption("A star moves by the tilt of the top. A tilt that stays, such as a settled footing, is a polar "
                   "error: of that size in altitude to the north, and a drift of at most the last column.")
    if age is not None:
        st.subheader("When may I bolt the mount down?", anchor=False)
        st.altair_chart(strength_chart(age), width="stretch")
    _cautions(COLUMN_CAUTIONS)


def _case_table(response: ColumnResponse) -> pd.DataFrame:
    return pd.DataFrame([{
        "cause": case.name, "star moves (″)": round(case.bending.angle.value, 2),
        "top (µm)": round(case.bending.deflection.value, 1),
        "drift (″/h)": round(case.tilted_north.drift_rate.value, 2),
    } for case in response.cases])


def _verdict(verdict: str, lines: tuple[str, ...]) -> None:
    {GOOD: st.success, CHECK: st.warning, UNSAFE: st.error}[verdict](_list(lines))


def _metrics(figures: list[tuple[str, str, str | None]]) -> None:
    for column, (label, value, below) in zip(st.columns(len(figures)), figures, strict=True):
        column.metric(label, value)
        if below:
            column.caption(below)


def _cautions(lines: tuple[str, ...]) -> None:
    st.markdown(f"**Caution**\n{_list(lines)}")


def _list(lines: tuple[str, ...]) -> str:
    return "\n".join(f"- {line}" for line in lines)


def _share(share: float | None) -> str | None:
    return None if share is None else f"{percent(share)} of the rated load"


def _number(value: Any, digits: int, unit: str = "") -> str:
    return f"{value:.{digits}f} {unit}".strip() if value == value else "none"


