"""The widgets of the pier page: what may be tried out, and the plain values they hold."""

from dataclasses import dataclass
from typing import Any

import streamlit as st

from planner.pier import PierSetup
from planner.pier.column.footing import KINDS
from planner.pier.wiring.cable import SERIES_MM2

AS_IT_IS = "as it is"
ONE_MORE = "one more part"


@dataclass(frozen=True)
class BalanceForm:
    """Another camera to try, and where the weights sit."""

    file: str
    part: str
    mass_kg: float
    along_mm: float
    height_mm: float
    positions_mm: tuple[float, ...]


@dataclass(frozen=True)
class PowerForm:
    """The night, and a cable to try."""

    file: str
    temperature_deg_c: float
    humidity_percent: float
    duration_h: float
    cable: str
    section_mm2: float


@dataclass(frozen=True)
class ColumnForm:
    """The column and what it stands on."""

    file: str
    height_m: float
    width_mm: float
    wall_mm: float
    footing: str
    soil_m_per_s: float
    wind_m_per_s: float
    push_n: float
    concrete_deg_c: float


def balance_form(setup: PierSetup, stamp: str) -> BalanceForm:
    """Show the widgets of the balance; `stamp` tells the file and its time of change."""
    assembly = setup.require("assembly")
    names = [AS_IT_IS, ONE_MORE, *(part.name for part in assembly.parts)]
    columns = st.columns(4)
    part = columns[0].selectbox("Swap or add a part", names, index=0, key="pier_part")
    chosen = next((one for one in assembly.parts if one.name == part), assembly.parts[-1])
    fixed = part == AS_IT_IS
    mass = _field(columns[1], "Its mass (kg)", f"pier_mass_{part}", chosen.mass.value, (0.01, 2000.0), 0.1,
                  disabled=fixed)
    along = _field(columns[2], "Along the tube (mm)", f"pier_along_{part}", chosen.along.value,
                   (-10000.0, 10000.0), 10.0, disabled=fixed,
                   help="Its centre from the declination axis, towards the sky positive.")
    height = _field(columns[3], "Above the saddle (mm)", f"pier_above_{part}", chosen.height.value, (-2000.0, 5000.0),
                    10.0, disabled=fixed, help="Its centre from the face of the saddle.")
    weights = assembly.counterweights
    places = tuple(
        _field(column, f"{weight.name}: {weight.mass.value:g} kg at (mm)", f"pier_weight_{weight.name}",
               weight.position.value, (0.0, 10000.0), 5.0, help="Its middle from the right-ascension axis.")
        for column, weight in zip(st.columns(len(weights)) if weights else (), weights, strict=True))
    return BalanceForm(file=stamp, part=part, mass_kg=mass, along_mm=along, height_mm=height,
                       positions_mm=places)


def power_form(setup: PierSetup, stamp: str) -> PowerForm:
    """Show the widgets of the 12 V tree."""
    tree, night = setup.require("tree"), setup.conditions
    first, second = st.columns(3), st.columns(2)
    cable = second[0].selectbox("Try another cross-section for", [AS_IT_IS, *(one.called for one in tree.cables)],
                                key="pier_cable")
    present = next((one.cross_section.value for one in tree.cables if one.called == cable), SERIES_MM2[0])
    section = second[1].selectbox("Cross-section (mm²)", SERIES_MM2, index=SERIES_MM2.index(present),
                                  key=f"pier_section_{cable}", disabled=cable == AS_IT_IS, format_func="{:g}".format)
    return PowerForm(
        file=stamp, cable=cable, section_mm2=float(section),
        temperature_deg_c=_field(first[0], "Night air (°C)", "pier_temperature", night.temperature.value,
                                 (-60.0, 50.0)),
        humidity_percent=_field(first[1], "Humidity (%)", "pier_humidity", night.humidity * 100, (1.0, 100.0)),
        duration_h=_field(first[2], "Night (h)", "pier_duration", night.duration.value, (0.1, 48.0), 0.5))


def column_form(setup: PierSetup, stamp: str) -> ColumnForm:
    """Show the widgets of the column."""
    column, footing, loads = setup.require("column"), setup.footing, setup.loads
    first, second = st.columns(4), st.columns(4)
    wall = 0.0 if column.wall is None else column.wall.value
    return ColumnForm(
        file=stamp,
        height_m=_field(first[0], "Height (m)", "pier_height", column.height.value, (0.05, 20.0), 0.1),
        width_mm=_field(first[1], "Width (mm)", "pier_width", column.width.value, (10.0, 3000.0), 10.0),
        wall_mm=_field(first[2], "Wall (mm)", "pier_wall", wall, (0.0, 1500.0), 0.5, help="0: solid."),
        footing=first[3].selectbox("Stands on", KINDS, index=KINDS.index(footing.kind), key="pier_footing"),
        soil_m_per_s=_field(
            second[0], "Soil: shear waves (m/s)", "pier_soil", footing.shear_wave_speed.value, (31.0, 4000.0), 20.0,
            help="100 soft clay, 180 stiff clay, 250 dense sand, 400 gravel, over 800 rock."),
        wind_m_per_s=_field(second[1], "Gust (m/s)", "pier_wind", loads.wind_speed.value, (0.0, 60.0)),
        push_n=_field(second[2], "Push of a hand (N)", "pier_push", loads.push.value, (0.0, 2000.0), 5.0),
        concrete_deg_c=_field(second[3], "Concrete since poured (°C)", "pier_concrete", 20.0, (0.0, 40.0)))


def _field(column: Any, label: str, key: str, value: float, limits: tuple[float, float], step: float = 1.0,
           **options: Any) -> float:
    """Show one number and return it."""
    return float(column.number_input(label, *limits, float(value), step, key=key, format="%g", **options))
