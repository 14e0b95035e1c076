"""A skyline of one's own: from a file, or typed into a table with its picture beside it."""

from typing import Any

import numpy as np
import streamlit as st
from astropy import units as u

from planner.charts.horizon import horizon_chart
from planner.checks import Rule
from planner.errors import PlannerError, inert
from planner.files.equipment.horizon import read_horizon
from planner.files.reading import InMemory
from planner.rig import HorizonProfile
from planner.ui.drawing import draw
from planner.ui.plain import plain
from planner.ui.settings import ask_for_rows

LARGEST_MB = 1
EMPTY_ROWS = 8
COLUMNS = {"Azimuth (°)": Rule(at_least=0, at_most=360, remedy="Count from north through east."),
           "Altitude (°)": Rule(at_least=-10, at_most=90, remedy="Give degrees above the level.")}


def ask_for_horizon(key: str) -> HorizonProfile | PlannerError | None:
    """Show the uploader, the table and the picture; return the skyline, None if there is none, or what is wrong."""
    left, right = st.columns(2)
    with left:
        given = st.file_uploader("A file of azimuth and altitude", type=["csv", "txt"], key=f"{key}_file",
                                 max_upload_size=LARGEST_MB, help='Lines like “135, 12”: degrees from north through '
                                                                  "east, and degrees above the horizon.")
        try:
            profile = _uploaded(given) if given is not None else _typed(key)
        except PlannerError as error:
            st.error(plain(error))
            return error
    with right:
        if profile is None:
            st.caption("The picture of your skyline stands here as soon as there is a line in the table.")
        else:
            draw(st, horizon_chart(profile), f"{key}_chart")
    return profile


def _uploaded(given: Any) -> HorizonProfile:
    return read_horizon(InMemory(inert(given.name), given.getvalue()))


def _typed(key: str) -> HorizonProfile | None:
    """Return the skyline of the table's lines, sorted by azimuth."""
    rows = ask_for_rows([["", ""]] * EMPTY_ROWS, COLUMNS, f"{key}_table", alt="Your skyline: azimuth and altitude.")
    if not rows:
        return None
    azimuth, altitude = np.array(sorted(rows, key=lambda row: row[0]), dtype=float).T  # two of one azimuth: a wall
    return HorizonProfile(azimuth=azimuth * u.deg, altitude=altitude * u.deg)
