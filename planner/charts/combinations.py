"""The trade between sharp stars, time and field, as one picture of all combinations."""

import altair as alt
import pandas as pd
from astropy import units as u

from planner.charts.theme import BLUE, GREY
from planner.session.match.combinations import Combinations
from planner.session.match.text import limited_by, time_text, whole_times

OPEN, BEATEN = "not outclassed", "outclassed"
LABELS = 8  # ranks written beside their dots, one for each camera on a telescope: more would overlap


def combinations_frame(asked: Combinations) -> pd.DataFrame:
    """Return the ranking as a table, one row a choice; columns end in their unit."""
    return pd.DataFrame([{
        "rank": choice.rank, "outclassed_by": choice.outclassed_by, "telescope": choice.telescope.name,
        "reducer": choice.reducer.name if choice.reducer else "", "camera": choice.camera.name,
        "binning": choice.binning, "focal_length_mm": float(choice.train.focal_length.to_value(u.mm)),
        "focal_ratio": choice.train.focal_ratio,
        "image_scale_arcsec_per_pixel": float(choice.image_scale.to_value(u.arcsec / u.pix)),
        "star_fwhm_arcsec": float(choice.fwhm.to_value(u.arcsec)), "star_fwhm_pixels": choice.fwhm_pixels,
        "resolution_lost_fraction": choice.resolution_lost,
        "field_width_deg": float(choice.field.width.to_value(u.deg)),
        "field_height_deg": float(choice.field.height.to_value(u.deg)),
        "field_deg2": float(choice.field_area.to_value(u.deg**2)),
        "target_fraction": choice.framing.share, "panels": choice.framing.panels,
        "sub_exposure_s": float(choice.sub_exposure.to_value(u.s)),
        "surface_h": float(surface.to_value(u.h)), "detail_h": float(detail.to_value(u.h)),
        "limited_by": limited_by(asked, choice),
    } for choice in asked.ranked for surface, detail in [whole_times(asked, choice)]])


def trade_chart(asked: Combinations) -> alt.LayerChart:
    """Draw time against the star's width, with the field as the size of a dot; ranks stand beside the best."""
    has_size = asked.target is not None and asked.target.size_major is not None
    table = combinations_frame(asked)
    table["choice"] = [choice.name for choice in asked.ranked]
    table["standing"] = [OPEN if choice.outclassed_by is None else BEATEN for choice in asked.ranked]
    table["time"] = [time_text(whole_times(asked, choice)[0]) for choice in asked.ranked]
    per = "whole target" if asked.target is not None else "one square degree"
    x = alt.X("star_fwhm_arcsec:Q", title="width of a star as recorded, FWHM (arcsec)",
              scale=alt.Scale(type="log", nice=False, padding=24), axis=alt.Axis(format="~g", tickCount=6))
    y = alt.Y("surface_h:Q", title=f"time for the faint surface, {per} (h)",
              scale=alt.Scale(type="log", nice=False, padding=24), axis=alt.Axis(format="~g", tickCount=6))
    standing = alt.Scale(domain=[OPEN, BEATEN], range=[BLUE, GREY])
    if has_size:
        size = alt.Size("target_fraction:Q", title="of the target in one frame", legend=alt.Legend(
            format="%", values=[0.1, 0.5, 1.0], orient="bottom"), scale=alt.Scale(domain=[0, 1], range=[25, 330]))
    else:
        size = alt.Size("field_deg2:Q", title="sky in one frame (square degrees)", legend=alt.Legend(
            format="~g", tickCount=3, orient="bottom"), scale=alt.Scale(range=[25, 330]))
    dots = alt.Chart(table).mark_point(strokeWidth=1.6).encode(
        x=x, y=y, size=size,
        color=alt.Color("standing:N", title=None, scale=standing),
        fill=alt.Fill("standing:N", title=None, scale=standing),
        fillOpacity=alt.condition(alt.datum.standing == OPEN, alt.value(0.55), alt.value(0.0)),
        tooltip=[alt.Tooltip("rank:Q"), alt.Tooltip("choice:N"),
                 alt.Tooltip("star_fwhm_arcsec:Q", title="star FWHM (arcsec)", format=".2f"),
                 alt.Tooltip("time:N", title=f"faint surface, {per}"), alt.Tooltip("panels:Q"),
                 alt.Tooltip("target_fraction:Q", title="in one frame", format=".0%") if has_size
                 else alt.Tooltip("field_deg2:Q", title="square degrees", format=".2f"),
                 alt.Tooltip("limited_by:N", title="limited by")])
    named = table[table["standing"] == OPEN].drop_duplicates(["telescope", "reducer", "camera"]).head(LABELS)
    ranks = alt.Chart(named).mark_text(dx=13, dy=-9, fontSize=12, color=GREY, fontWeight="bold")
    labels = ranks.encode(x=x, y=y, text="rank:Q")
    return alt.layer(dots, labels).properties(height=400)
