"""What was measured on frames, written as CSV: the drift log that `planner drift` reads, and the stars themselves."""

from collections.abc import Sequence
from pathlib import Path

import numpy as np
from astropy import units as u

from planner.files.csv_text import text_cell
from planner.files.writing import write_new
from planner.measure.drift.model import DriftLog
from planner.measure.stars.star_field import StarField


def write_drift_log(path: Path | str, log: DriftLog) -> None:
    """Write a drift log as a new CSV file; what is known of the star's place goes into comments at the top.

    Raises InvalidInputError if there is a file of that name, or it cannot be written.
    """
    write_new(Path(path).expanduser(), drift_log_text(log), what="log", remedy="Give another name with --log.",
              folders=False)


def drift_log_text(log: DriftLog) -> str:
    """Return a drift log as CSV; what is known of the star's place stands in comments at the top."""
    known = (("dec_deg", log.declination), ("hour_angle_deg", log.hour_angle), ("latitude_deg", log.latitude))
    lines = ["# Positions of the stars of a series of frames against the first; east and north positive."]
    lines += [f"# {name}: {value.to_value(u.deg):.6f}" for name, value in known if value is not None]
    if log.site is not None:
        lines.append(f"# site: {log.site}")
    if log.exposure is not None:
        lines.append(f"# exposure_s: {log.exposure.to_value(u.s):g}")
    lines.append("time_s,ra_arcsec,dec_arcsec")
    columns = (log.time.to_value(u.s), log.ra.to_value(u.arcsec), log.dec.to_value(u.arcsec))
    lines += [f"{time:.3f},{ra:.4f},{dec:.4f}" for time, ra, dec in np.column_stack(columns)]
    return "\n".join(lines) + "\n"


def write_stars(path: Path | str, frames: Sequence[tuple[str, StarField]]) -> None:
    """Write the measured stars of frames, by file name, as a new CSV file; errors as in `write_drift_log`."""
    write_new(Path(path).expanduser(), stars_text(frames), what="stars", remedy="Give another name with --stars.",
              folders=False)


def stars_text(frames: Sequence[tuple[str, StarField]]) -> str:
    """Return the measured stars of frames as CSV."""
    lines = ["# Stars that were measured. The centre of the first pixel is 0, 0; angles run from columns towards rows.",
             "file,x_pixels,y_pixels,flux,signal_to_noise,fwhm_pixels,elongation,angle_deg"]
    for name, field in frames:
        stars = field.stars
        scale = 1.0 if not stars.count else field.fwhm.to_value(u.pix) / float(np.median(stars.size))
        size = np.abs(stars.distortion)
        columns = (stars.x, stars.y, stars.flux, stars.signal_to_noise, scale * stars.size,
                   1 - np.sqrt((1 - size) / (1 + size)), np.degrees(np.angle(stars.distortion) / 2) % 180)
        name = text_cell(name)
        quoted = '"' + name.replace('"', '""') + '"' if set(name) & set(',"\n') else name
        lines += [f"{quoted},{x:.3f},{y:.3f},{flux:.6g},{signal:.1f},{width:.3f},{elongation:.4f},{angle:.1f}"
                  for x, y, flux, signal, width, elongation, angle in np.column_stack(columns)]
    return "\n".join(lines) + "\n"
