"""The seeing of a site, night by night: a CSV beside the equipment file, and what it makes of the site's table."""

import csv
import datetime
import io
import math
from dataclasses import dataclass
from pathlib import Path

from astropy import units as u

from planner.errors import InvalidInputError
from planner.files.csv_text import csv_cells, text_cell
from planner.files.equipment import equipment_path
from planner.files.equipment.edit import write_equipment_table
from planner.files.reading import read_text
from planner.files.writing import rewrite
from planner.measure.error_text import as_written
from planner.measure.frame.night import USUAL_SPREAD, NightSeeing, site_seeing
from planner.rig import Site

WHAT = "seeing record"
RECORD = "seeing.csv"
COLUMNS = ("site", "night", "seeing_arcsec", "error_arcsec", "frames")
BEFORE = "before"  # instead of a night: what the site's table said before the first


@dataclass(frozen=True)
class KeptSeeing:
    """What the record made of the site's table."""

    seeing: str  # as it is written
    nights: int
    record: Path
    equipment: Path

    @property
    def sentence(self) -> str:
        """What was kept, in words."""
        nights = "1 night" if self.nights == 1 else f"{self.nights} nights"
        return (f"Seeing {self.seeing} saved in {self.equipment}: by {nights} in {self.record.name}, and what the "
                "table said before them.")


def keep_seeing(equipment: Path | str | None, site: Site, night: NightSeeing) -> KeptSeeing:
    """Add a night to the record of its site, in place of one of that date, and write what all nights say of the site.

    Raises InvalidInputError if the equipment file is the demo's, or one of the files cannot be read or written.
    """
    write_equipment_table(equipment, "site", site.name, {})  # refuses what cannot be written before the record grows
    path = equipment_path(equipment).resolve().with_name(RECORD)
    kept: list[dict[str, str]] = []

    def with_night(text: str) -> str:
        kept[:] = _with_night(_rows(text, path), site, night)
        out = io.StringIO()
        writer = csv.DictWriter(out, COLUMNS, lineterminator="\n")
        writer.writeheader()
        writer.writerows(kept)
        return out.getvalue()

    rewrite(path, with_night, what=WHAT, start=",".join(COLUMNS) + "\n")
    own = [row for row in kept if row["site"] == text_cell(site.name)]
    figures = {row["night"]: (float(row["seeing_arcsec"]), float(row["error_arcsec"])) for row in own}
    before = figures.pop(BEFORE)
    value, error, spread = site_seeing(list(figures.values()), before)
    text = as_written(value, error, "arcsec")
    used = write_equipment_table(equipment, "site", site.name, {"seeing": text, "seeing_spread": round(spread, 3)},
                                 measured=True)
    return KeptSeeing(text, len(figures), path, used)


def kept_nights(equipment: Path | str | None, site: Site) -> list[NightSeeing]:
    """Return the nights that a site has on record, by date; none without a record.

    Raises InvalidInputError if the record cannot be read.
    """
    path = equipment_path(equipment).resolve().with_name(RECORD)
    if not path.is_file():
        return []
    own = [row for row in _rows(read_text(path, what=WHAT), path)
           if row["site"] == text_cell(site.name) and row["night"] != BEFORE]
    return sorted((NightSeeing(night=row["night"], value=float(row["seeing_arcsec"]) * u.arcsec,
                               error=float(row["error_arcsec"]) * u.arcsec, frames=int(row["frames"])) for row in own),
                  key=lambda night: night.night)


def _rows(text: str, path: Path) -> list[dict[str, str]]:
    name = f"{WHAT} {path.name}"
    lines = [(number, csv_cells(name, number, line, ",")) for number, line in enumerate(text.splitlines(), start=1)
             if line.strip()]
    rows = []
    for number, cells in lines[1:]:
        row = dict(zip(lines[0][1], cells, strict=False))
        try:
            good = all(0 < float(row[column]) < math.inf for column in COLUMNS[2:4]) and set(row) == set(COLUMNS)
            good = good and len(cells) == len(COLUMNS) and int(row["frames"]) >= 0
            good = good and (row["night"] == BEFORE or bool(datetime.date.fromisoformat(row["night"])))
        except (KeyError, ValueError):
            good = False
        if not good:
            raise InvalidInputError(f"{name}, line {number}", ",".join(cells), f"must hold {', '.join(COLUMNS)}",
                                    "Correct or remove the line.")
        rows.append(row)
    return rows


def _with_night(rows: list[dict[str, str]], site: Site, night: NightSeeing) -> list[dict[str, str]]:
    name = text_cell(site.name)
    if all(row["site"] != name or row["night"] != BEFORE for row in rows):
        usual = (site.relative_error("seeing") or USUAL_SPREAD) * site.seeing.value
        rows = [*rows, _row(name, BEFORE, site.seeing.value, usual, 0)]
    rows = [row for row in rows if (row["site"], row["night"]) != (name, night.night)]
    return [*rows, _row(name, night.night, night.value.value, night.error.value, night.frames)]


def _row(site: str, night: str, value: float, error: float, frames: int) -> dict[str, str]:
    return dict(zip(COLUMNS, (site, night, f"{value:.3f}", f"{error:.3f}", str(frames)), strict=True))
