"""The trade between sharp stars, time and field, as one picture of all set-ups."""

from collections.abc import Sequence

import altair as alt
import numpy as np
import pandas as pd
from astropy import units as u

from planner.charts.theme import BLUE, GREY
from planner.session.match.combinations import Combinations
from planner.session.match.set_ups import SetUp
from planner.session.match.text import causes_text, reach_text, time_text

OPEN, BEATEN = "worth a look", "outclassed, too heavy or not working"
UNITS = {"h": 1.0, "min": 60.0, "s": 3600.0}  # in an hour
# What is drawn by the ranking; the faint surface for others.
TIMES = {"detail": ("detail_time", "fine detail"), "stars": ("star_time", "faint stars")}
LABELS = 8  # ranks written beside their dots: more would overlap


def set_ups_frame(asked: Combinations, rows: Sequence[SetUp]) -> pd.DataFrame:
    """Return the ranking as a table, one row a set-up; columns end in their unit."""
    return pd.DataFrame([{
        "rank": row.rank, "as_good": row.as_good, "outclassed_by": row.outclassed_by,
        "telescope": choice.telescope.name, "reducer": choice.reducer.name if choice.reducer else "",
        "camera": choice.camera.name, "binning": row.binnings[0], "verdict": row.verdict,
        "sub_exposure_s": float(row.sub_exposure.to_value(u.s)), "kept_fraction": row.kept,
        "surface_h": float(row.surface_time.to_value(u.h)), "detail_h": float(row.detail_time.to_value(u.h)),
        "stars_h": float(row.star_time.to_value(u.h)),
        "depth": reach_text(row),
        "focal_length_mm": float(choice.train.focal_length.to_value(u.mm)), "focal_ratio": choice.train.focal_ratio,
        "image_scale_arcsec_per_pixel": float(choice.image_scale.to_value(u.arcsec / u.pix)),
        "star_fwhm_arcsec": float(choice.fwhm.to_value(u.arcsec)), "star_fwhm_pixels": choice.fwhm_pixels,
        "picture_fwhm_arcsec": float(choice.picture_fwhm.to_value(u.arcsec)),
        "resolution_lost_fraction": choice.resolution_lost,
        "field_width_deg": float(choice.field.width.to_value(u.deg)),
        "field_height_deg": float(choice.field.height.to_value(u.deg)),
        "field_deg2": float(choice.field_area.to_value(u.deg**2)),
        "target_fraction": choice.framing.share, "panels": choice.framing.panels,
        "load_kg": float(row.load.to_value(u.kg)), "data_gigabyte_per_h": float(row.data.value),
        "limited_by": causes_text(asked, row),
    } for row in rows for choice in [row.choice]])


def trade_chart(asked: Combinations, rows: Sequence[SetUp]) -> alt.LayerChart:
    """Draw time against the star's width, with the field as the size of a dot; ranks stand beside the best."""
    key, what = TIMES.get(asked.ranking, ("surface_time", "the faint surface"))
    rows = [row for row in rows if np.isfinite(getattr(row, key).value)]
    has_size = asked.target is not None and asked.target.size_major is not None
    table = set_ups_frame(asked, rows)
    table["choice"] = [row.name for row in rows]
    table["standing"] = [OPEN if row.as_good or (row.outclassed_by is None and not row.reason) else BEATEN
                         for row in rows]
    hours = pd.Series([float(getattr(row, key).to_value(u.h)) for row in rows])
    table["time"] = [time_text(getattr(row, key)) for row in rows]
    per = "one square degree" if asked.target is None else f"all of {asked.target.name}"
    x = alt.X("picture_fwhm_arcsec:Q", title="width of a star in a picture, FWHM (arcsec)",
              scale=alt.Scale(type="log", nice=False, padding=24), axis=alt.Axis(format=",.3~r", tickCount=6))
    unit, domain = _time_axis(hours)
    table["shown"] = hours * UNITS[unit]
    y = alt.Y("shown:Q", title=f"time for {what}, {per} ({unit})", axis=alt.Axis(format=",.3~r", tickCount=6),
              scale=alt.Scale(type="log", nice=False, padding=24, domain=domain))
    standing, legend = alt.Scale(domain=[OPEN, BEATEN], range=[BLUE, GREY]), alt.Legend(labelLimit=260)
    if has_size:
        size = alt.Size("target_fraction:Q", title="of the target in one frame", legend=alt.Legend(
            format="%", values=[0.1, 0.5, 1.0], orient="bottom"), scale=alt.Scale(domain=[0, 1], range=[25, 330]))
    else:
        size = alt.Size("field_deg2:Q", title="sky in one frame (square degrees)", legend=alt.Legend(
            format="~g", tickCount=3, orient="bottom"), scale=alt.Scale(range=[25, 330]))
    dots = alt.Chart(table).mark_point(strokeWidth=1.6).encode(
        x=x, y=y, size=size,
        color=alt.Color("standing:N", title=None, scale=standing, legend=legend),
        fill=alt.Fill("standing:N", title=None, scale=standing, legend=legend),
        fillOpacity=alt.condition(alt.datum.standing == OPEN, alt.value(0.55), alt.value(0.0)),
        tooltip=[alt.Tooltip("rank:Q"), alt.Tooltip("choice:N"),
                 alt.Tooltip("picture_fwhm_arcsec:Q", title="star FWHM (arcsec)", format=".2f"),
                 alt.Tooltip("time:N", title=f"{what}, {per}"), alt.Tooltip("panels:Q"),
                 alt.Tooltip("target_fraction:Q", title="in one frame", format=".0%") if has_size
                 else alt.Tooltip("field_deg2:Q", title="square degrees", format=".2f"),
                 alt.Tooltip("limited_by:N", title="limited by")])
    named = table[[row.as_good or row.outclassed_by is None for row in rows]].head(LABELS)  # too heavy ones too
    ranks = alt.Chart(named).mark_text(dx=13, dy=-9, fontSize=12, color=GREY, fontWeight="bold")
    labels = ranks.encode(x=x, y=y, text=alt.Text("rank:Q"))
    return alt.layer(dots, labels).properties(height=400, description=(
        "Time against the width of a star for every set-up; the field as the size of the dot."))


def _time_axis(hours: pd.Series) -> tuple[str, list[float]]:
    """Return the unit that suits the longest of the times, and a domain in it of a factor of two at least."""
    longest = float(hours.max()) if len(hours) else 1.0
    unit = next((name for name, count in UNITS.items() if longest * count >= 0.95), "s")
    low, high = (float(hours.min()), longest) if len(hours) else (0.5, 1.0)
    middle, spread = (low * high) ** 0.5, max((high / low) ** 0.5, 2**0.5)
    return unit, [middle / spread * UNITS[unit], middle * spread * UNITS[unit]]
