"""The NGC/IC catalogue, read from the SQLite file of the package pyongc (data: OpenNGC, CC BY-SA 4.0).

Names in it are padded (``NGC0224``); right ascension and declination are in radians, sizes in arcmin.
"""

import contextlib
import dataclasses
import functools
import importlib.util
import math
import re
import sqlite3
from collections.abc import Iterator
from contextvars import ContextVar
from pathlib import Path
from typing import Any

import numpy as np

from planner.errors import InvalidInputError, PlannerError
from planner.files.targets.nebulae import UNITS, Nebula, as_target, nebulae
from planner.visibility.target import SkyObjects, Target

# How the catalogue writes a number: prefix and digits; by what people type.
_PREFIXES = {
    "ngc": ("NGC", 4), "ic": ("IC", 4), "m": ("M", 3), "messier": ("M", 3), "c": ("C", 3), "caldwell": ("C", 3),
    "b": ("B", 3), "barnard": ("B", 3), "mel": ("MEL", 3), "melotte": ("MEL", 3), "cl": ("CL", 3),
    "collinder": ("CL", 3), "cr": ("CL", 3), "ugc": ("UGC", 5), "pgc": ("PGC", 6), "lbn": ("LBN", 3),
    "hcg": ("HCG", 3), "hickson": ("HCG", 3), "mwsc": ("MWSC", 4), "h": ("H", 2), "harvard": ("H", 2),
}
_WRITTEN = {"MEL": "Mel", "CL": "Cr"}
_NUMBERED = re.compile(r"([a-z]+)[\s.\-_]*0*(\d+)\s*([a-z]?|ned\s*\d+|[ns][ew])", re.I)
_ESO = re.compile(r"eso[\s.\-_]*(\d{1,3})[\s.\-_]+(?:g\s*)?(\d{1,3})", re.I)
# Names that the catalogue gives to a neighbour (the Flame is NGC 2024, a degree north of IC 434; Orion B is the whole
# cloud, the filament a row of galaxies), and one that nobody uses.
_MISNAMED = {("IC0434", "Flame Nebula"), ("IC0434", "Orion B"), ("NGC0253", "Sculptor Filament"),
             ("NGC6618", "Checkmark Nebula")}
# The catalogue's surface brightness is a B value inside the isophote: beside magnitude and axes it scatters by 0.25 mag
# in B and 0.50 in V (3317 galaxies). V = B - (B - V): the galaxy's own where both magnitudes are known and a galaxy can
# have the difference, else the median of those galaxies.
_COLOUR, _COLOUR_RANGE = 0.76, (0.2, 1.3)  # mag
# A listed mean that is brighter is a slip (the Sculptor dwarf's 18.75): discs have 21.65 in B at their very centre
# (Freeman 1970, ApJ 160, 811).
_BRIGHTEST = 19.0  # mag/arcsec2
_GALAXIES = ("G", "GPair", "GTrpl", "GGroup")
_KINDS = {
    "*": "star", "**": "double star", "*Ass": "association of stars", "OCl": "open cluster", "GCl": "globular cluster",
    "Cl+N": "cluster with nebula", "G": "galaxy", "GPair": "pair of galaxies", "GTrpl": "triplet of galaxies",
    "GGroup": "group of galaxies", "PN": "planetary nebula", "HII": "emission nebula", "DrkN": "dark nebula",
    "EmN": "emission nebula", "Neb": "nebula", "RfN": "reflection nebula", "SNR": "supernova remnant", "Nova": "nova",
    "NonEx": "not existing", "Other": "other", "Dup": "duplicate",
}
# What the catalogue calls a mere nebula, a cluster with one, or else. From memory: NGC 7023, NGC 1333, IC 348,
# IC 4604, NGC 1432, 2071, 7129 are 139, 17, 19, 106, 21, 60, 146 of van den Bergh 1966, AJ 71, 990 (reflection), as is
# the dust of NGC 1435 and IC 4601, 4603, 4605; NGC 6334 and IC 2177 are Sh2-8 and 296.
_KINDS_KNOWN = {
    "NGC7023": "reflection nebula", "NGC1333": "reflection nebula", "IC0348": "reflection nebula",
    "IC4604": "reflection nebula", "NGC1432": "reflection nebula", "NGC1435": "reflection nebula",
    "NGC2071": "reflection nebula", "NGC7129": "reflection nebula", "IC4601": "reflection nebula",
    "IC4603": "reflection nebula", "IC4605": "reflection nebula", "NGC6334": "emission nebula",
    "IC2177": "emission nebula",
}
_OPEN: ContextVar[sqlite3.Connection | None] = ContextVar("open_catalogue", default=None)
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

    Raises InvalidInputError if the catalogue lists the number but knows no place for it.
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
    return as_target(_facts(row, nebulae().get(row["name"])))


@functools.cache
def common_names() -> tuple[tuple[str, str], ...]:
    """Return the pairs of common name and padded catalogue name, in the catalogue's order."""
    with _catalogue() as catalogue:
        rows = catalogue.execute("SELECT name, commonnames FROM objects WHERE commonnames != ''").fetchall()
    return tuple((name, row["name"]) for row in rows for name in _names_of(row))


def all_names() -> list[str]:
    """Return every name that may be asked for, readable: numbers, Messier numbers and common names."""
    with _catalogue() as catalogue:
        rows = catalogue.execute("SELECT name, messier FROM objects").fetchall()
    messier = [f"M {int(row['messier'])}" for row in rows if row["messier"]]
    return [readable(row["name"]) for row in rows] + messier + [name for name, _ in common_names()]


def all_objects() -> SkyObjects:
    """Return every object that has a place, duplicates left out, as columns, and the nebulae beside the catalogue."""
    with _catalogue() as catalogue:
        rows = catalogue.execute(f"SELECT {_COLUMNS} FROM objects WHERE ra IS NOT NULL AND type != 'Dup'").fetchall()
    known = nebulae()
    found = [_facts(row, known.get(row["name"])) for row in rows]
    # What only radio or the infrared shows would be offered to a camera: H-alpha must be known.
    found += [entry.facts for entry in known.values() if entry.place and entry.line_brightness is not None]

    def column(name: str) -> Any:
        values = [facts.get(name) for facts in found]
        if name not in UNITS:
            return np.array(values, dtype=object)
        return np.array(values, dtype=float) * UNITS[name]

    return SkyObjects(**{field.name: column(field.name) for field in dataclasses.fields(SkyObjects)})


def readable(padded: str) -> str:
    """Return a padded name as people write it: ``NGC0224`` gives ``NGC 224``, ``Cl399`` (Collinder) ``Cr 399``."""
    found = re.fullmatch(r"([A-Za-z]+)0*(\d+)(.*)", padded)
    return f"{_WRITTEN.get(found[1].upper(), found[1])} {found[2]}{found[3]}" if found else padded


@contextlib.contextmanager
def kept_open() -> Iterator[None]:
    """Keep the catalogue open for many questions in a row."""
    with _catalogue() as connection:
        before = _OPEN.set(connection)
        try:
            yield
        finally:
            _OPEN.reset(before)


@contextlib.contextmanager
def _catalogue() -> Iterator[sqlite3.Connection]:
    """Open the catalogue for reading only, unless `kept_open` has it open."""
    kept = _OPEN.get()
    if kept is not None:
        yield kept
        return
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


def _facts(row: sqlite3.Row, nebula: Nebula | None) -> dict[str, Any]:
    """Return what is known of an object by the names of `Target`, bare in UNITS; None for what is not."""
    colour, surface, magnitude = _colour(row), row["sbrightn"], row["vmag"]
    if magnitude is None and row["bmag"] is not None:
        magnitude = round(row["bmag"] - (colour or 0.0), 2)
    facts = {
        "name": readable(row["name"]), "ra": math.degrees(row["ra"]) % 360, "dec": math.degrees(row["dec"]),
        "kind": _kind(row), "size_major": row["majax"], "size_minor": row["minax"], "position_angle": row["pa"],
        "magnitude": magnitude, "common_name": _common_name(row), "brightness_from": _band_text(row, colour),
        "surface_brightness": None if surface is None or colour is None or surface - colour < _BRIGHTEST
        else round(surface - colour, 2),
    }
    return facts if nebula is None else facts | nebula.measures


def _colour(row: sqlite3.Row) -> float | None:
    """Return B - V of a galaxy; None for anything else."""
    if row["type"] not in _GALAXIES:
        return None
    if row["vmag"] is not None and row["bmag"] is not None:
        own = float(row["bmag"] - row["vmag"])
        if _COLOUR_RANGE[0] <= own <= _COLOUR_RANGE[1]:
            return own
    return _COLOUR


def _band_text(row: sqlite3.Row, colour: float | None) -> str:
    """Return the band of an object's brightness: V, or how it was had from B."""
    if row["vmag"] is None and row["bmag"] is None and row["sbrightn"] is None:
        return ""
    if colour is None:
        return "magnitude in V" if row["vmag"] is not None else "magnitude in B"
    from_blue = row["sbrightn"] is not None or row["vmag"] is None
    return f"V: the catalogue's B less B-V = {colour:.2f}" if from_blue else "V"


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
