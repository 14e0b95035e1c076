"""The NGC/IC catalogue, read from the SQLite file of the package pyongc (data: OpenNGC, CC BY-SA 4.0).

Names in it are padded (``NGC0224``); right ascension and declination are in radians, sizes in arcmin.
"""

import contextlib
import importlib.util
import math
import re
import sqlite3
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from astropy import units as u

from planner.errors import InvalidInputError, PlannerError
from planner.visibility.sky_objects import SkyObjects
from planner.visibility.target import Target

# How the catalogue writes a number: prefix and digits; by what people type.
_PREFIXES = {
    "ngc": ("NGC", 4), "ic": ("IC", 4), "m": ("M", 3), "messier": ("M", 3), "c": ("C", 3), "caldwell": ("C", 3),
    "b": ("B", 3), "barnard": ("B", 3), "mel": ("MEL", 3), "melotte": ("MEL", 3), "cl": ("CL", 3),
    "collinder": ("CL", 3), "cr": ("CL", 3), "ugc": ("UGC", 5), "pgc": ("PGC", 6), "lbn": ("LBN", 3),
    "hcg": ("HCG", 3), "hickson": ("HCG", 3), "mwsc": ("MWSC", 4), "h": ("H", 2), "harvard": ("H", 2),
}
_NUMBERED = re.compile(r"([a-z]+)[\s.\-_]*0*(\d+)\s*([a-z]?|ned\s*\d+|[ns][ew])", re.I)
_ESO = re.compile(r"eso[\s.\-_]*(\d{1,3})[\s.\-_]+(?:g\s*)?(\d{1,3})", re.I)
# Names that the catalogue gives to a neighbour: the Flame is NGC 2024, a degree north of IC 434.
_MISNAMED = {("IC0434", "Flame Nebula")}
_KINDS = {
    "*": "star", "**": "double star", "*Ass": "association of stars", "OCl": "open cluster", "GCl": "globular cluster",
    "Cl+N": "cluster with nebula", "G": "galaxy", "GPair": "pair of galaxies", "GTrpl": "triplet of galaxies",
    "GGroup": "group of galaxies", "PN": "planetary nebula", "HII": "emission nebula", "DrkN": "dark nebula",
    "EmN": "emission nebula", "Neb": "nebula", "RfN": "reflection nebula", "SNR": "supernova remnant", "Nova": "nova",
    "NonEx": "not existing", "Other": "other", "Dup": "duplicate",
}
# What the catalogue calls a mere nebula, a cluster with one, or else. From memory: NGC 7023, NGC 1333, IC 348,
# IC 4604 are 139, 17, 19, 106 of van den Bergh 1966, AJ 71, 990 (reflection); NGC 6334 and IC 2177 are Sh2-8 and 296.
_KINDS_KNOWN = {
    "NGC7023": "reflection nebula", "NGC1333": "reflection nebula", "IC0348": "reflection nebula",
    "IC4604": "reflection nebula", "NGC6334": "emission nebula", "IC2177": "emission nebula",
}
_COLUMNS = "name, type, ra, dec, majax, minax, pa, vmag, bmag, sbrightn, messier, ngc, ic, commonnames"


def numbered_name(text: str) -> str | None:
    """Return a catalogue number as the catalogue writes it (``m 31`` gives ``M031``), None if it is none."""
    region = _ESO.fullmatch(text.strip())
    if region is not None:
        return f"ESO{int(region[1]):03d}-{int(region[2]):03d}"
    found = _NUMBERED.fullmatch(text.strip())
    if found is None or found[1].lower() not in _PREFIXES:
        return None
    prefix, digits = _PREFIXES[found[1].lower()]
    suffix = re.sub(r"NED\s*0*(\d+)", lambda part: f" NED{int(part[1]):02d}", found[3].upper())
    return f"{prefix}{int(found[2]):0{digits}d}{suffix}"


def object_by_number(padded: str) -> Target | None:
    """Return the object of a padded catalogue number; a duplicate gives the object that it repeats.

    Raises
    ------
    InvalidInputError
        If the catalogue lists the number but knows no place for it.
    """
    with _catalogue() as catalogue:
        row = _row(catalogue, padded)
        if row is not None and row["type"] == "Dup":
            row = _original(catalogue, row) or row
    if row is None:
        return None
    if row["ra"] is None:
        raise InvalidInputError("target", readable(row["name"]), "is listed without a place: there is no such object",
                                "Give its coordinates.")
    return _target(row)


def common_names() -> list[tuple[str, str]]:
    """Return the pairs of common name and padded catalogue name, in the catalogue's order."""
    with _catalogue() as catalogue:
        rows = catalogue.execute("SELECT name, commonnames FROM objects WHERE commonnames != ''").fetchall()
    return [(name, row["name"]) for row in rows for name in _names_of(row)]


def all_names() -> list[str]:
    """Return every name that may be asked for, readable: numbers, Messier numbers and common names."""
    with _catalogue() as catalogue:
        rows = catalogue.execute("SELECT name, messier FROM objects").fetchall()
    messier = [f"M {int(row['messier'])}" for row in rows if row["messier"]]
    return [readable(row["name"]) for row in rows] + messier + [name for name, _ in common_names()]


def all_objects() -> SkyObjects:
    """Return every object that has a place, duplicates left out, as columns."""
    with _catalogue() as catalogue:
        rows = catalogue.execute(f"SELECT {_COLUMNS} FROM objects WHERE ra IS NOT NULL AND type != 'Dup'").fetchall()

    def column(name: str, unit: u.UnitBase, scale: float = 1.0) -> u.Quantity:
        return np.array([row[name] for row in rows], dtype=float) * scale * unit

    def texts(values: list[str]) -> np.ndarray:
        return np.array(values, dtype=object)

    visual, blue = column("vmag", u.mag), column("bmag", u.mag)
    kinds = texts([_kind(row) for row in rows])
    is_galaxy = np.isin(kinds, ("galaxy", "pair of galaxies", "triplet of galaxies", "group of galaxies"))
    surface = column("sbrightn", u.mag / u.arcsec**2)
    return SkyObjects(
        name=texts([readable(row["name"]) for row in rows]), common_name=texts([_common_name(row) for row in rows]),
        kind=kinds, ra=np.mod(column("ra", u.deg, 180 / np.pi), 360 * u.deg), dec=column("dec", u.deg, 180 / np.pi),
        size_major=column("majax", u.arcmin), size_minor=column("minax", u.arcmin),
        magnitude=np.where(np.isfinite(visual.value), visual, blue),
        surface_brightness=np.where(is_galaxy, surface, np.nan * surface.unit))


def readable(padded: str) -> str:
    """Return a padded name as people write it: ``NGC0224`` gives ``NGC 224``."""
    found = re.fullmatch(r"([A-Za-z]+)0*(\d+)(.*)", padded)
    return f"{found[1]} {found[2]}{found[3]}" if found else padded


@contextlib.contextmanager
def _catalogue() -> Iterator[sqlite3.Connection]:
    """Open the catalogue for reading only."""
    spec = importlib.util.find_spec("pyongc")
    folder = next(iter(spec.submodule_search_locations or []), None) if spec else None
    if folder is None:
        raise PlannerError("The catalogue package pyongc is missing: install the program again.")
    uri = (Path(folder) / "ongc.db").resolve().as_uri()
    try:
        connection = sqlite3.connect(f"{uri}?mode=ro&immutable=1", uri=True)
        connection.row_factory = sqlite3.Row
        with contextlib.closing(connection):
            yield connection
    except sqlite3.Error as error:
        raise PlannerError(f"The catalogue of the package pyongc cannot be read ({error}): install it again.") from None


def _row(catalogue: sqlite3.Connection, padded: str) -> sqlite3.Row | None:
    query = f"SELECT {_COLUMNS} FROM objects WHERE "
    if re.fullmatch(r"M\d{3}", padded):
        # The object itself before a record that repeats it.
        row = catalogue.execute(query + "messier = ? ORDER BY type = 'Dup'", (padded[1:],)).fetchone()
        if row is not None:
            return row
    query += "name = (SELECT name FROM objIdentifiers WHERE identifier = ?)"
    return catalogue.execute(query, (padded.upper(),)).fetchone()


def _original(catalogue: sqlite3.Connection, row: sqlite3.Row) -> sqlite3.Row | None:
    """Return the object that a duplicate record repeats."""
    for column, prefix in (("ngc", "NGC"), ("ic", "IC"), ("messier", "M")):
        if row[column]:
            return _row(catalogue, f"{prefix}{row[column].split(',')[0]}")
    return None


def _target(row: sqlite3.Row) -> Target:
    magnitude = row["vmag"] if row["vmag"] is not None else row["bmag"]
    is_galaxy = row["type"] in ("G", "GPair", "GTrpl", "GGroup")
    return Target(
        name=readable(row["name"]),
        ra=math.degrees(row["ra"]) % 360 * u.deg,
        dec=math.degrees(row["dec"]) * u.deg,
        kind=_kind(row),
        size_major=_optional(row["majax"], u.arcmin),
        size_minor=_optional(row["minax"], u.arcmin),
        position_angle=_optional(row["pa"], u.deg),
        magnitude=_optional(magnitude, u.mag),
        surface_brightness=_optional(row["sbrightn"] if is_galaxy else None, u.mag / u.arcsec**2),
        common_name=_common_name(row),
    )


def _kind(row: sqlite3.Row) -> str:
    """Return what an object is, in words."""
    return _KINDS_KNOWN.get(row["name"]) or _KINDS.get(row["type"], row["type"])


def _common_name(row: sqlite3.Row) -> str:
    """Return the Messier number and the common name of an object, two names at most."""
    names = [f"M {int(row['messier'])}"] if row["messier"] else []
    return ", ".join((names + _names_of(row))[:2])


def _names_of(row: sqlite3.Row) -> list[str]:
    """Return the common names of an object, without a leading article."""
    names = [name.strip().removeprefix("the ") for name in (row["commonnames"] or "").split(",")]
    return [name for name in names if name and (row["name"], name) not in _MISNAMED]


def _optional(value: float | None, unit: u.UnitBase) -> u.Quantity | None:
    return None if value is None else value * unit
