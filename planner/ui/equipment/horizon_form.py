"""A skyline of one's own: from a file, or typed into a table with its picture beside it."""

import numpy as np
import streamlit as st
from astropy import units as u

from planner.charts.sky_map import horizon_chart
from planner.checks import Rule
from planner.errors import PlannerError, inert
from planner.files.equipment.horizon import read_horizon
from planner.files.reading import InMemory
from planner.rig import HorizonProfile
from planner.ui.drawing import draw
from planner.ui.plain import plain
from planner.ui.settings import ask_for_rows, rows_typed

LARGEST_MB = 1
EMPTY = [["", ""]] * 8
COLUMNS = {"Azimuth (°)": Rule(at_least=0, at_most=360, remedy="Count from north through east."),
           "Altitude (°)": Rule(at_least=-10, at_most=90, remedy="Give degrees above the level.")}


def ask_for_horizon(key: str) -> None:
    """Show the uploader, the table and the picture."""
    left, right = st.columns(2)
    with left:
        given = st.file_uploader("A file of azimuth and altitude", type=["csv", "txt"], key=f"{key}_file",
                                 max_upload_size=LARGEST_MB, help='Lines like “135, 12”: degrees from north through '
                                                                  "east, and degrees above the horizon.")
        try:
            if given is None:
                ask_for_rows(EMPTY, COLUMNS, f"{key}_table", alt="Your skyline: azimuth and altitude.", take="Draw it")
            profile = horizon_given(key)
        except PlannerError as error:
            st.error(plain(error))
            return
    with right, st.container(key="of_rows_skyline"):
        if profile is None:
            st.caption("Fill a line in the table, and the picture of your skyline stands here.")
        else:
            draw(st, horizon_chart(profile), f"{key}_chart")


def horizon_given(key: str) -> HorizonProfile | None:
    """Return the skyline as it stands at this moment, sorted by azimuth; None if there is none.

    Raises InvalidInputError if file or table hold what is none.
    """
    given = st.session_state.get(f"{key}_file")
    if given is not None:
        return read_horizon(InMemory(inert(given.name), given.getvalue()))
    rows = rows_typed(EMPTY, COLUMNS, f"{key}_table")
    if not rows:
        return None
    azimuth, altitude = np.array(sorted(rows, key=lambda row: row[0]), dtype=float).T  # two of one azimuth: a wall
    return HorizonProfile(azimuth=azimuth * u.deg, altitude=altitude * u.deg)
