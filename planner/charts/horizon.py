"""The skyline of a site: how high it stands all around."""

import altair as alt
import pandas as pd
from astropy import units as u

from planner.charts.theme import GREY, PALE
from planner.rig import HorizonProfile


def horizon_frame(profile: HorizonProfile) -> pd.DataFrame:
    """Return the skyline as rows of azimuth and altitude [deg], closed over north."""
    azimuth = profile.azimuth.to_value(u.deg).tolist()
    altitude = profile.altitude.to_value(u.deg).tolist()
    closed = [(azimuth[-1] - 360, altitude[-1]), *zip(azimuth, altitude, strict=True), (azimuth[0] + 360, altitude[0])]
    return pd.DataFrame(closed, columns=["azimuth", "altitude"])


def horizon_chart(profile: HorizonProfile) -> alt.Chart:
    """Return the picture of a skyline, north at both ends and south in the middle."""
    directions = "{0: 'north', 90: 'east', 180: 'south', 270: 'west', 360: 'north'}[datum.value]"
    axis = alt.Axis(values=[0, 90, 180, 270, 360], labelExpr=directions)
    return alt.Chart(horizon_frame(profile)).mark_area(line={"color": GREY}, color=PALE, clip=True).encode(
        x=alt.X("azimuth:Q", title=None, axis=axis, scale=alt.Scale(domain=[0, 360])),
        y=alt.Y("altitude:Q", title="Altitude (°)", scale=alt.Scale(domain=[0, 90]))).properties(
            height=220, description="Altitude of the skyline all around.")
