"""Nebulae beside the NGC/IC catalogue: sizes, names and H-alpha brightness of `data/catalogues/nebulae.csv`.

The catalogue gives many nebulae the size of their star cluster (IC 1396: 14 arcmin for three degrees). The file says
where each number comes from.
"""

import csv
import functools
import re
import types
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from astropy import units as u

from planner.files.own_files import packaged_data
from planner.visibility.target import Target

UNITS: dict[str, u.UnitBase] = {
    "ra": u.deg, "dec": u.deg, "size_major": u.arcmin, "size_minor": u.arcmin, "position_angle": u.deg,
    "magnitude": u.mag, "surface_brightness": u.mag / u.arcsec**2, "line_brightness": u.R,
}
# Sh2-155, Sh 2-155, sh2 155, sh 155, Sharpless 155, Sharpless 2-155.
_SHARPLESS = re.compile(r"(?:(?:sh|sharpless)\s*2[\s\-]+|sh2|sharpless[\s\-]*|sh[\s\-]+)(\d{1,3})", re.I)
SOURCES = {"radio": "radio extent", "infrared": "in the infrared"}
OUTLINE = "outline on survey pictures"  # the file tells its level of brightness as well


@dataclass(frozen=True, kw_only=True)
class Nebula:
    """One row: a nebula by its padded catalogue name, or its own where the catalogue lacks it (then with a place)."""

    name: str
    also: tuple[str, ...]
    kind: str
    place: tuple[float, float] | None  # ra, dec in deg
    measures: dict[str, Any]  # of `Target`, bare in UNITS: what the file has in place of the catalogue's
    line_brightness: float | None  # rayleigh

    @property
    def facts(self) -> dict[str, Any]:
        """What a target is made of where the catalogue lacks it (`as_target`)."""
        ra, dec = self.place or (None, None)
        return {"name": self.name, "ra": ra, "dec": dec, "kind": self.kind,
                "common_name": ", ".join(self.also[:2])} | self.measures


def as_target(facts: dict[str, Any]) -> Target:
    """Return a target of bare facts in UNITS."""
    return Target(**{name: value * UNITS[name] if name in UNITS and value is not None else value
                     for name, value in facts.items()})


@functools.cache
def nebulae() -> Mapping[str, Nebula]:
    """Return the nebulae of the file by name."""
    with packaged_data("catalogues/nebulae.csv").open(encoding="utf-8") as lines:
        found = {row["name"]: _nebula(row)
                 for row in csv.DictReader(line for line in lines if not line.startswith("#"))}
    return types.MappingProxyType(found)


def nebula_named(text: str, found: Mapping[str, Nebula]) -> Nebula | None:
    """Return the nebula of a name or another name of it, however it is spaced (``sh 2-155``)."""
    wanted = plain(text)
    return next((entry for entry in found.values() if wanted in map(plain, (entry.name, *entry.also))), None)


def plain(text: str) -> str:
    """Return a name for comparing: lower case letters and digits, a Sharpless number as ``sh2155``."""
    number = _SHARPLESS.fullmatch(text.strip())
    return f"sh2{int(number[1])}" if number else "".join(sign for sign in text.lower() if sign.isalnum())


def _nebula(row: dict[str, str]) -> Nebula:
    columns = {"size_major": "size_major_arcmin", "size_minor": "size_minor_arcmin",
               "position_angle": "position_angle_deg", "line_brightness": "halpha_r"}
    measures: dict[str, Any] = {name: float(row[column]) for name, column in columns.items() if row[column]}
    source = row["size_from"]
    measures["size_from"] = OUTLINE if source.startswith("outline") else SOURCES.get(source, source)
    measures["size_elsewhere"] = row["size_elsewhere"]
    return Nebula(name=row["name"], also=tuple(row["also"].split("; ")) if row["also"] else (), kind=row["kind"],
                  place=(float(row["ra_deg"]), float(row["dec_deg"])) if row["ra_deg"] else None,
                  measures=measures, line_brightness=measures.get("line_brightness"))
