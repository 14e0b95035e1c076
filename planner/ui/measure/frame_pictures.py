"""What the page of test frames shows of one frame, and of a series."""

import numpy as np
import streamlit as st
from astropy import units as u

from planner.charts.measure import outlines_frame, series_chart, series_frame, shape_map_chart, width_chart
from planner.charts.theme import dark_paper
from planner.files.csv_text import csv_text
from planner.measure.frame.field_shape import field_shape, shape_lines
from planner.measure.frame.model import FrameReport, Known
from planner.measure.frame.picture import ringed, width_map
from planner.measure.frame.report import Report
from planner.measure.frame.series_text import night_lines, trend_lines
from planner.measure.frame.text import (
    angle_text,
    cause_lines,
    elongation_text,
    length_text,
    map_rows,
    part_lines,
    part_rows,
    prediction_rows,
    tolerated_text,
    trail_lines,
    trail_text,
    width_text,
)
from planner.measure.stars.outlines import star_outlines
from planner.measure.stars.star_field import StarField
from planner.ui.drawing import draw
from planner.ui.plain import plain


def show_series(report: Report) -> None:
    """Show the grades of many frames and what changed."""
    st.dataframe([{
        "frame": item.path.name, "grade": item.grade.verdict, "FWHM": width_text(item),
        "elongation": elongation_text(item), "angle": angle_text(item), "trail": trail_text(item),
        "stars": item.field.found, "why": "; ".join(item.grade.reasons),
    } for item in report.frames], hide_index=True, width="stretch", key="frame_table", alt="Grades of the frames.")
    for column, quantity in zip(st.columns(3), ("FWHM (pixels)", "elongation", "stars"), strict=True):
        draw(column, series_chart(report, quantity), f"frame_series_{quantity}")
    tolerated = tolerated_text(report.known, series=True)
    st.caption(f"{tolerated[:1].upper()}{tolerated[1:]}. " + " ".join(trend_lines(report)))
    together = night_lines(report)
    if together:
        st.markdown("\n".join(f"- {line}" for line in together))
    st.download_button("Series (CSV)", csv_text(series_frame(report)), "frames.csv", "text/csv",
                       key="download_frame_series")


def show_frame(item: FrameReport, picture: np.ndarray | None, known: Known, *, compared: bool) -> None:
    """Show one frame at length; `compared`: with what the rig should have made of it, for it took the frame."""
    _figures(item)
    field = item.field
    if picture is not None:
        _picture(picture, field)
    if field.parts is None:
        st.info(f"{field.reason[:1].upper()}{field.reason[1:]}.")
        return
    left, right = st.container(key="shapes").columns([2, 3])
    with left:
        _map(item)
    with right:
        st.subheader("What stretches the stars", anchor=False)
        st.markdown("\n".join(f"- {line}" for line in [*trail_lines(item), *part_lines(field.parts)]))
        st.table(part_rows(field.parts))
        st.caption("Trail: a motion that would elongate a star as much. A part is present when the frame cannot be "
                   "described without it.")
        causes = cause_lines(item)
        if causes:
            st.subheader("What would explain the trail", anchor=False)
            st.markdown("\n".join(f"- {line}" for line in causes))
            st.caption("A star does not tell which way it went. In right ascension a worm's periodic error may do as "
                       "much in a frame" + (": what the rig's mount is known to do is in the prediction below."
                                             if compared else "."))
        if compared:
            _prediction(item, known)
    for note in item.notes:
        st.caption(note)


def _figures(item: FrameReport) -> None:
    field = item.field
    angle = angle_text(item) if field.parts is not None else ""
    where = "position angle" if item.orientation is not None else "from up over left"
    trail = field.trail
    figures = [
        ("FWHM", width_text(item).split(" = ")[0], f"rings, {field.ring.value:.0f} pixels wide" if field.ring.value else
         f"{field.fwhm.to_value(u.pix):.2f} pixels"),
        ("Elongation", elongation_text(item), f"{where} {angle}" if angle else "no direction stands out"),
        ("Trail", "none" if trail is None or not trail.significant else length_text(trail.length, item).split(" = ")[0],
         "" if trail is None else f"± {length_text(trail.error, item).split(' = ')[0]}" if trail.significant
         else f"at most {length_text(trail.upper_limit, item).split(' = ')[0]}"),
        ("Stars", str(field.found), f"{field.used} measured"),
    ]
    for column, (label, value, below) in zip(st.columns(len(figures)), figures, strict=True):
        column.metric(label, value)
        if below:
            column.caption(below)


def _picture(picture: np.ndarray, field: StarField) -> None:
    """Show the frame stretched, its measured stars ringed, and how wide they are over it."""
    left, right = st.container(key="picture").columns([3, 2])
    seen = ringed(picture, field)
    left.image(255 - seen if dark_paper() else seen, width="stretch",  # a dark look exchanges light and dark
               alt="The frame with its measured stars ringed.",
               caption="The frame, stretched so that faint and bright show; rings: the stars that were measured. Rows "
                       "grow upwards.")
    widths = width_map(field)
    if len(widths.fwhm) > 1 and field.parts is not None:
        shape = field_shape([field.parts])
        tilt = None if shape is None else shape.tilt
        with right:
            st.subheader("Width over the frame", anchor=False)
            draw(st, width_chart(widths, tilt), "frame_widths", width="content")
            st.caption(" ".join([
                f"Median FWHM, in pixels, of {widths.stars.min()} to {widths.stars.max()} stars of a cell.",
                *(shape_lines(shape, 1, " px") or ["The widths show no tilt."])]))


def _map(item: FrameReport) -> None:
    """Show the shapes over the frame and the figures of its nine parts."""
    drawn = star_outlines(item.field)
    st.subheader("Shapes over the frame", anchor=False)
    draw(st, shape_map_chart(drawn), "frame_map", width="content")
    st.caption(f"Each outline is the mean star of a ninth of the frame, its elongation drawn {drawn.factor:g} times, "
               "its area after its FWHM. A stroke lies along each single star, longer for more elongation, noise and "
               "all. Rows grow upwards.")
    st.table(map_rows(item.field))
    st.caption("FWHM in pixels, elongation, number of stars; high rows on top.")
    st.download_button("Shapes (CSV)", csv_text(outlines_frame(drawn)), "shapes.csv", "text/csv",
                       key="download_shapes")


def _prediction(item: FrameReport, known: Known) -> None:
    if item.comparison is None or known.rig is None:
        return
    st.subheader(plain(f'Against the rig "{known.rig.name}"'), anchor=False)
    st.table(prediction_rows(item.comparison))
    st.markdown("\n".join(f"- {plain(line)}" for line in item.comparison.sentences))
