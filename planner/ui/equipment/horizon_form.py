"""A skyline of one's own: from a file, or typed into a table with its picture beside it."""

from typing import Any

import numpy as np
import pandas as pd
import streamlit as st
from astropy import units as u

from planner.charts.horizon import horizon_chart
from planner.errors import InvalidInputError, PlannerError, inert
from planner.files.equipment.horizon import read_horizon
from planner.files.reading import InMemory
from planner.rig import HorizonProfile
from planner.ui.drawing import draw
from planner.ui.plain import plain

LARGEST_MB = 1
EMPTY_ROWS = 8


def ask_for_horizon(key: str) -> HorizonProfile | None:
    """Show the uploader, the table and the picture; return the skyline, None while there is none that is right."""
    left, right = st.columns(2)
    with left:
        given = st.file_uploader("A file of azimuth and altitude", type=["csv", "txt"], key=f"{key}_file",
                                 max_upload_size=LARGEST_MB, help='Lines like “135, 12”: degrees from north through '
                                                                  "east, and degrees above the horizon.")
        try:
            profile = _uploaded(given) if given is not None else _typed(key)
        except PlannerError as error:
            st.error(plain(error))
            return None
    with right:
        if profile is None:
            st.caption("The picture of your skyline stands here as soon as there is a line in the table.")
        else:
            draw(st, horizon_chart(profile), f"{key}_chart")
    return profile


def _uploaded(given: Any) -> HorizonProfile:
    return read_horizon(InMemory(inert(given.name), given.getvalue()))


def _typed(key: str) -> HorizonProfile | None:
    """Return the skyline of the table's full lines, sorted by azimuth."""
    empty = pd.DataFrame({"Azimuth (°)": [None] * EMPTY_ROWS, "Altitude (°)": [None] * EMPTY_ROWS}, dtype="float64")
    table = st.data_editor(empty, key=f"{key}_table", num_rows="dynamic", hide_index=True, width="stretch",
                           column_config={
                               "Azimuth (°)": st.column_config.NumberColumn(min_value=0.0, max_value=360.0),
                               "Altitude (°)": st.column_config.NumberColumn(min_value=-10.0, max_value=90.0)})
    rows = table.to_numpy(dtype=float)
    half = np.isnan(rows).sum(axis=1) == 1
    if half.any():
        raise InvalidInputError("horizon", f"line {int(np.argmax(half)) + 1}", "must hold an azimuth and an altitude",
                                "Type the other one too.")
    rows = rows[~np.isnan(rows).any(axis=1)]
    if not len(rows):
        return None
    rows = rows[np.argsort(rows[:, 0], kind="stable")]
    return HorizonProfile(azimuth=rows[:, 0] * u.deg, altitude=rows[:, 1] * u.deg)
