"""The sky as it stands around the observer, the skyline by itself, and the field of one target."""

from typing import Any

import altair as alt
import numpy as np
import pandas as pd
from astropy import units as u

from planner.charts.night import (
    EAST,
    NO_SIDE,
    WEST,
    Layers,
    altitude_frame,
    as_shown,
    name_places,
    named,
    runs_of,
    target_colour,
)
from planner.charts.theme import EAST_HUE, GREY, INK, PALE, WEST_HUE
from planner.rig import HorizonProfile
from planner.session.advice.sky_field import SkyField
from planner.session.night.sky import NightSky

COMPASS = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")
WALL = "#8b949d"
RIM = 1.12  # of the picture, from the zenith; the horizon is at 1
DOME_SIDE = 330  # screen pixels: fits a phone
FIELD_SIDE = 292  # screen pixels: with its axis it fits a phone


def dome_place(azimuth_deg: Any, altitude_deg: Any) -> tuple[Any, Any]:
    """Return places on the dome as seen by who lies on the back: zenith 0, horizon 1, north up, east to the left."""
    away, azimuth = 1 - np.asarray(altitude_deg) / 90, np.radians(np.asarray(azimuth_deg))
    return -away * np.sin(azimuth), away * np.cos(azimuth)


def _on_dome(table: pd.DataFrame) -> pd.DataFrame:
    """Return a table of azimuth_deg and altitude_deg with their places on the dome: across, up."""
    across, up = dome_place(table["azimuth_deg"], table["altitude_deg"])
    return table.assign(across=across, up=up)


def skyline_frame(sky: NightSky) -> pd.DataFrame:
    """Return the skyline: azimuth_deg, altitude_deg, across, up."""
    return _on_dome(pd.DataFrame({"azimuth_deg": sky.skyline_azimuth.to_value(u.deg),
                                  "altitude_deg": sky.skyline_altitude.to_value(u.deg).clip(min=0)}))


def hour_frame(sky: NightSky) -> pd.DataFrame:
    """Return places at the full hours: name, planned, time, hour, azimuth_deg, altitude_deg, across, up."""
    frames = []
    shown = as_shown(sky.hours)
    rows = [(target.name, sky.marks_working[row], sky.marks.azimuth[row], sky.marks.apparent_altitude[row])
            for row, target in enumerate(sky.targets)]
    moon = sky.moon_marks
    for name, planned, azimuth, altitude in [*rows, ("Moon", False, moon.azimuth, moon.apparent_altitude)]:
        frames.append(pd.DataFrame({
            "name": name, "planned": planned, "time": shown, "hour": [f"{hour:%H}" for hour in sky.hours],
            "azimuth_deg": azimuth.to_value(u.deg), "altitude_deg": altitude.to_value(u.deg)}))
    table = pd.concat(frames, ignore_index=True)
    return _on_dome(table[table["altitude_deg"] > 0])


def track_frame(sky: NightSky) -> pd.DataFrame:
    """Return the tracks as in `altitude_frame`, with their places on the dome."""
    return _on_dome(altitude_frame(sky))


def dome_chart(sky: NightSky) -> alt.LayerChart:
    """Draw the sky with the zenith in the middle: skyline, limits, tracks with their hours, the Moon, flips."""
    table, hours = track_frame(sky), hour_frame(sky)
    scale = alt.Scale(domain=[-RIM, RIM], nice=False)
    x, y = alt.X("across:Q", axis=None, scale=scale), alt.Y("up:Q", axis=None, scale=scale)
    tips = [alt.Tooltip("name:N"), alt.Tooltip("time:T", format="%H:%M", formatType="utc"),
            alt.Tooltip("altitude_deg:Q", title="altitude (°)", format=".0f"),
            alt.Tooltip("azimuth_deg:Q", title="azimuth (°)", format=".0f")]
    colour = target_colour(sky)

    def lines(states: tuple[str, ...], **mark: Any) -> alt.Chart:
        return alt.Chart(runs_of(table, states)).mark_line(**mark).encode(
            x=x, y=y, detail=alt.Detail("run:N"), order=alt.Order("time:T"), tooltip=tips)

    targets, moon = hours[hours["name"] != "Moon"], hours[hours["name"] == "Moon"]
    layers: Layers = [
        *_dome_paper(sky, x, y),
        lines(("moon",), color=GREY, strokeWidth=2, strokeDash=[8, 4]),
        lines(("planned", "clear", "hidden"), strokeWidth=1.4, strokeDash=[2, 4]).encode(color=colour),
        lines(("planned", "clear"), strokeWidth=1.6).encode(color=colour),
        lines(("planned",), strokeWidth=6, strokeCap="butt").encode(color=colour),
        alt.Chart(targets).mark_point(filled=True, size=34, opacity=1).encode(x=x, y=y, color=colour, tooltip=tips),
        alt.Chart(moon).mark_point(filled=True, size=34, opacity=1, color=GREY).encode(x=x, y=y, tooltip=tips),
        alt.Chart(_flip_frame(sky)).mark_point(shape="diamond", filled=True, size=120, color="black", opacity=1
                                               ).encode(x=x, y=y, tooltip=tips),
        *named(alt.Chart(_lettered(hours)).encode(x=x, y=y, text=alt.Text("hour:N")), fontSize=10, fontWeight="normal",
               dy=11),
        *named(alt.Chart(name_places(table, "across", "up", (2 * RIM, 2 * RIM))).encode(x, y, alt.Text("name:N"))),
    ]
    square = alt.AutoSizeParams(type="pad", contains="content")
    return alt.layer(*layers).properties(width=DOME_SIDE, height=DOME_SIDE, autosize=square, description=(
        "The sky with the zenith in the middle, north up and east to the left: tracks of the drawn targets and the "
        "Moon, the skyline and the limits."))


def _dome_paper(sky: NightSky, x: alt.X, y: alt.Y) -> Layers:
    """Draw what stands still: the skyline filled in, circles of altitude, the limits, the meridian, the compass."""
    ring = np.arange(0.0, 361.0, 5.0)
    around = _on_dome(pd.DataFrame({"azimuth_deg": ring, "altitude_deg": 0.0}))
    wall = pd.concat([around, skyline_frame(sky).iloc[::-1]], ignore_index=True).assign(order=lambda t: t.index)
    limits = [level for level in (sky.lowest_altitude.to_value(u.deg), sky.ceiling.to_value(u.deg)) if 0 < level < 90]
    circles = pd.concat([_on_dome(pd.DataFrame({"azimuth_deg": ring, "altitude_deg": level})).assign(
        order=ring, level=f"{level:.0f}°") for level in (0.0, 30.0, 60.0, *limits)], ignore_index=True)
    names = _on_dome(pd.DataFrame({"azimuth_deg": [place * 45 for place in range(8)], "altitude_deg": -6.0,
                                   "letter": COMPASS}))
    meridian = _on_dome(pd.DataFrame({"azimuth_deg": [0.0, 180.0], "altitude_deg": 0.0}))
    circle, limit = circles["level"].isin(["0°", "30°", "60°"]), circles["level"].isin([f"{it:.0f}°" for it in limits])
    return [
        alt.Chart(wall).mark_line(fill=WALL, fillOpacity=0.75, strokeWidth=0).encode(x, y, alt.Order("order:Q")),
        alt.Chart(circles[circle]).mark_line(color="#c3c9cf", strokeWidth=1).encode(
            x=x, y=y, detail=alt.Detail("level:N"), order=alt.Order("order:Q")),
        alt.Chart(circles[limit]).mark_line(color=GREY, strokeWidth=1.2, strokeDash=[2, 4]).encode(
            x, y, alt.Detail("level:N"), alt.Order("order:Q"), alt.Tooltip("level:N", title="limit")),
        alt.Chart(meridian).mark_line(color=GREY, strokeWidth=1, strokeDash=[6, 4]).encode(x=x, y=y),
        alt.Chart(names).mark_text(color=GREY, fontSize=12).encode(x=x, y=y, text=alt.Text("letter:N")),
    ]


def _lettered(hours: pd.DataFrame) -> pd.DataFrame:
    """Return the hours that are written: those of planned stretches, and the even ones of the Moon."""
    return hours[hours["planned"] | ((hours["name"] == "Moon") & (hours["hour"].astype(int) % 2 == 0))]


def _flip_frame(sky: NightSky) -> pd.DataFrame:
    rows = [(target.name, sky.clock(time), altitude.to_value(u.deg), azimuth.to_value(u.deg))
            for target, time, altitude, azimuth in sky.flips]
    table = pd.DataFrame(rows, columns=["name", "time", "altitude_deg", "azimuth_deg"])
    return _on_dome(table.assign(time=as_shown(table["time"])))


def field_frame(field: SkyField) -> pd.DataFrame:
    """Return stars and outlines: what, east_arcmin, north_arcmin, magnitude (NaN for outlines), order."""
    shapes = {"frame": field.frame}
    if field.ellipse is not None:
        shapes["target"] = field.ellipse
    if len(field.panels) > 1:
        shapes |= {f"panel {number}": shape for number, shape in enumerate(field.panels, start=1)}
    shapes |= {f"guider, {side}": view.outline for side, view in zip(_sides(field), field.guide, strict=False)}
    frames = [pd.DataFrame({"what": "star", "east_arcmin": field.star_places[:, 0].to_value(u.arcmin),
                            "north_arcmin": field.star_places[:, 1].to_value(u.arcmin),
                            "magnitude": field.star_magnitudes.to_value(u.mag), "order": 0})]
    frames += [pd.DataFrame({"what": name, "east_arcmin": shape[:, 0].to_value(u.arcmin),
                             "north_arcmin": shape[:, 1].to_value(u.arcmin), "magnitude": np.nan,
                             "order": range(len(shape))}) for name, shape in shapes.items()]
    return pd.concat([frame for frame in frames if len(frame)], ignore_index=True)


def _sides(field: SkyField) -> tuple[str, ...]:
    """Return the names of the sides of the pier that the field is drawn for."""
    return (WEST, EAST) if len(field.top) > 1 else (NO_SIDE,)


def field_chart(field: SkyField, reach: u.Quantity[u.arcmin] | None = None) -> alt.LayerChart:
    """Draw the field, north up and east left, at one scale in both directions, to its own reach or a wider one."""
    table = field_frame(field)
    reach = (field.reach if reach is None else reach).to_value(u.arcmin)
    x = alt.X("east_arcmin:Q", title="east ← (arcmin)", scale=alt.Scale(domain=[reach, -reach], nice=False))
    y = alt.Y("north_arcmin:Q", title="north (arcmin)", scale=alt.Scale(domain=[-reach, reach], nice=False))

    def outline(name: str, **mark: object) -> alt.Chart:
        return alt.Chart(table[table["what"] == name]).mark_line(clip=True, **mark).encode(x, y, alt.Order("order:Q"))

    stars = table[table["what"] == "star"]
    sides = list(_sides(field))
    tops = pd.DataFrame({"side": sides, "east_arcmin": field.top[:, 0].to_value(u.arcmin),
                         "north_arcmin": field.top[:, 1].to_value(u.arcmin)})
    marks = alt.Color("side:N", title="top of the picture", scale=alt.Scale(
        domain=sides, range=[WEST_HUE, EAST_HUE][:len(sides)]), legend=alt.Legend(direction="vertical", labelLimit=260))
    shapes = alt.Shape("side:N", title="top of the picture", scale=alt.Scale(
        domain=sides, range=["circle", "square"][:len(sides)]))
    layers: Layers = [
        alt.Chart(stars).mark_circle(color=INK, opacity=0.85, clip=True).encode(
            x=x, y=y, size=alt.Size("magnitude:Q", title=None, legend=None, scale=alt.Scale(
                domain=[4, 11], range=[90, 3], clamp=True)),
            tooltip=[alt.Tooltip("magnitude:Q", title="magnitude (G)", format=".1f")]),
        outline("target", color="#009E73", strokeWidth=2, strokeDash=[6, 3]),
        *_panels(table, x, y),
        outline("frame", color=INK, strokeWidth=2),
        *(outline(f"guider, {side}", color=colour, strokeWidth=2, strokeDash=dash) for side, colour, dash in zip(
            sides, (WEST_HUE, EAST_HUE), ([1, 0], [6, 3]), strict=False)),
        alt.Chart(tops).mark_point(filled=True, size=130, opacity=1).encode(x=x, y=y, color=marks, shape=shapes),
    ]
    square = alt.AutoSizeParams(type="pad", contains="content")
    return alt.layer(*layers).properties(
        width=FIELD_SIDE, height=FIELD_SIDE, autosize=square, description=(
        f"The field of the camera around {field.target.name}: stars, target, camera, panels and guider."))


def _panels(table: pd.DataFrame, x: alt.X, y: alt.Y) -> Layers:
    """Draw the panels of a mosaic with their numbers; nothing where there are none."""
    panels = table[table["what"].str.startswith("panel ")]
    if panels.empty:
        return []
    corners = panels[panels["order"] < 4].groupby("what", as_index=False)[["east_arcmin", "north_arcmin"]].mean()
    return [alt.Chart(panels).mark_line(color=GREY, strokeWidth=1.2, clip=True).encode(
                x=x, y=y, detail=alt.Detail("what:N"), order=alt.Order("order:Q")),
            *named(alt.Chart(corners.assign(number=corners["what"].str.removeprefix("panel "))).encode(
                x=x, y=y, text=alt.Text("number:N")))]


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
