"""A drift log measured on frames, written as CSV that `planner drift` reads."""

from pathlib import Path

import numpy as np
from astropy import units as u

from planner.errors import InvalidInputError
from planner.measure.drift_log import DriftLog


def write_drift_log(path: Path | str, log: DriftLog) -> None:
    """Write a drift log as a new CSV file; what is known of the star's place goes into comments at the top.

    Raises
    ------
    InvalidInputError
        If there is a file of that name, or it cannot be written.
    """
    path = Path(path).expanduser()
    known = (("dec_deg", log.declination), ("hour_angle_deg", log.hour_angle), ("latitude_deg", log.latitude))
    lines = ["# Positions of the stars of a series of frames against the first; east and north positive."]
    lines += [f"# {name}: {value.to_value(u.deg):.6f}" for name, value in known if value is not None]
    lines.append("time_s,ra_arcsec,dec_arcsec")
    columns = (log.time.to_value(u.s), log.ra.to_value(u.arcsec), log.dec.to_value(u.arcsec))
    lines += [f"{time:.3f},{ra:.4f},{dec:.4f}" for time, ra, dec in np.column_stack(columns)]
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write("\n".join(lines) + "\n")
    except FileExistsError:
        raise InvalidInputError("log", path, "is there already and is never overwritten",
                                "Give another name with --log.") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise InvalidInputError("log", path, f"cannot be written ({reason})", "Check the folder.") from None
