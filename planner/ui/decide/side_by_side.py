"""Two whole rigs on one target: answers, fields at one scale over the object, and a star of each."""

from collections.abc import Callable

import streamlit as st
from astropy import units as u

from planner.charts.advice import star_chart
from planner.charts.sky_map import field_chart
from planner.checks import Rule
from planner.errors import PlannerError
from planner.files.targets.stars import stars_around
from planner.rig import Rig
from planner.session.advice.answer import Advice
from planner.session.advice.glance import glance_after
from planner.session.advice.sky_field import SkyField, panel_words, sky_field
from planner.session.advice.star_strip import StarPicture, recommended_stars
from planner.session.advice.text import field_text, headline
from planner.ui.choices import Chosen
from planner.ui.drawing import draw
from planner.ui.lines import draw_table
from planner.ui.plain import plain
from planner.ui.settings import number

ANGLE = Rule(at_least=-360, at_most=360, remedy="Give degrees, e.g. 90.")
HOURS = 6 * u.h  # for the depth, where the target has no window tonight


@st.fragment
def side_by_side(chosen: Chosen, now: Advice, ask: Callable[[Rig], Advice]) -> None:
    """Show another rig beside the chosen one; `ask` answers for a rig."""
    others = [rig for rig in chosen.equipment.rigs if rig.name != now.rig.name]
    if not others:
        st.markdown('There is no second rig in the equipment. Put one together on the page “My equipment”.')
        return
    columns = st.columns([2, 2, 3])
    name = columns[0].selectbox("Beside it", [rig.name for rig in others], key="beside_rig")
    angle = number("beside_angle", "Top of the picture (°)", None, ANGLE, place=columns[1],
                   placeholder="0, or as a mosaic is laid out",
                   help="Its position angle, from north through east; set the camera to it.")
    try:
        then = ask(next(rig for rig in others if rig.name == name))
    except PlannerError as error:
        st.error(plain(error))
        return
    hours = HOURS if now.scene is None else now.scene.length
    sides = [dict(glance_after(advice, hours)) for advice in (now, then)]
    labels = [label for label in dict.fromkeys(label for side in sides for label in side) if label != "Limits"]
    rows = [(label, *(side.get(label, "—") for side in sides)) for label in labels]
    draw_table(st, ("", now.rig.name, then.rig.name), [
        ("Do, as the figures stand", headline(now), headline(then)), *rows,
        ("Field", field_text(now), field_text(then))])
    _pictures(now, then, angle)


def _pictures(now: Advice, then: Advice, angle_deg: float | None) -> None:
    """Show both fields at one scale, and below each a star at its recommended length."""
    fields = [_field(advice, angle_deg) for advice in (now, then)]
    reach = max(field.reach for field in fields)
    for column, advice, field in zip(st.columns(2), (now, then), fields, strict=True):
        with column:
            st.markdown(f"**{plain(advice.rig.name)}**")
            draw(st, field_chart(field, reach), f"beside_{advice.rig.name}", width="content")
            st.caption(" ".join(panel_words(field)))
            stars = _stars(advice)
            with st.container(horizontal=True, key=f"beside_stars_{advice.rig.name}"):
                for place, star in zip(("middle", "corner"), stars, strict=False):
                    with st.container(width="content"):
                        st.markdown(place.capitalize())
                        draw(st, star_chart(star, float(stars[0].share.max())), f"beside_{place}_{advice.rig.name}",
                             width="content")
    st.caption("Both fields at one scale, north up, east left: the camera's edge, the guider's, the outline of the "
               "target dashed. Below, a star at the recommended length in the middle of the picture and in its worst "
               "corner, in pixels of each camera; a telescope with one blur has it in both.")


def _field(advice: Advice, angle_deg: float | None) -> SkyField:
    return sky_field(advice.target, advice.rig, stars_around(advice.target, advice.rig),
                     camera_angle=None if angle_deg is None else angle_deg * u.deg)


def _stars(advice: Advice) -> tuple[StarPicture, ...]:
    if advice.scene is None or advice.need is None:
        return ()
    return recommended_stars(advice.scene, advice.need, advice.star)
