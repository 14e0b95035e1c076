"""A night's blocks as a table: CSV with the unit in each column's name, or ECSV with units and times that read back."""

import csv
import io
from pathlib import Path
from typing import Any

import numpy as np
from astropy import units as u

from planner.files.csv_text import text_cell
from planner.files.writing import write_answer
from planner.session.night.model import Block, NightPlan
from planner.visibility.clock import utc_text

WHAT = "plan table"
UNITS = {"ra": u.deg, "dec": u.deg, "sub_exposure": u.s, "altitude": u.deg, "equivalent_hours": u.h}


def write_plan_table(path: Path | str, plan: NightPlan, *, force: bool = False) -> Path:
    """Write the blocks, ECSV for a name in ``.ecsv``, else CSV; an existing file is kept unless `force`."""
    path = Path(path)
    text = plan_ecsv(plan) if path.suffix.lower() == ".ecsv" else plan_csv(plan)
    return write_answer(path, text, what=WHAT, force=force)


def plan_csv(plan: NightPlan) -> str:
    """Return the blocks as CSV (RFC 4180), times in ISO 8601 UTC; a header line alone without blocks."""
    names = [f"{name}_{UNITS[name]}" if name in UNITS and name != "equivalent_hours" else name for name in _COLUMNS]
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(names)
    for block in plan.blocks:
        row = _row(block)
        writer.writerow([text_cell(row[name]) if not isinstance(row[name], float)
                         else f"{row[name]:{'.6f' if name in ('ra', 'dec') else '.6g'}}" for name in _COLUMNS])
    return text.getvalue()


def plan_ecsv(plan: NightPlan) -> str:
    """Return the blocks as ECSV: quantities with units, times as astropy times, site, rig and night in its header."""
    from astropy.table import QTable
    from astropy.time import Time

    rows = [_row(block) for block in plan.blocks]
    table = QTable(meta={"night": plan.date.isoformat(), "site": plan.site.name, "rig": plan.rig.name})
    for name in _COLUMNS:
        values = [row[name] for row in rows]
        if name in UNITS:
            table[name] = np.array(values, dtype=float) * UNITS[name]
        elif name.endswith("_utc"):
            table[name] = Time([value.rstrip("Z") for value in values], scale="utc", format="isot") if rows else values
        else:
            table[name] = values
    text = io.StringIO()
    table.write(text, format="ascii.ecsv")
    return text.getvalue()


_COLUMNS = ("target", "filter", "start_utc", "end_utc", "pier_side", "guided", "sub_count", "sub_exposure", "altitude",
            "equivalent_hours", "ra", "dec")


def _row(block: Block) -> dict[str, Any]:
    return {
        "target": block.target.name, "filter": block.band.name, "start_utc": utc_text(block.start),
        "end_utc": utc_text(block.end), "pier_side": block.pier_side, "guided": block.guided,
        "sub_count": block.sub_count, "sub_exposure": float(block.sub_exposure.to_value(u.s)),
        "altitude": float(block.altitude.to_value(u.deg)),
        "equivalent_hours": float(block.equivalent_hours.to_value(u.h)),
        "ra": float(block.target.ra.to_value(u.deg)), "dec": float(block.target.dec.to_value(u.deg))}
