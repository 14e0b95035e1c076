"""Orbits of comets and minor planets as they are published, one line each, or typed: ``2P q=0.331 e=0.850 i=11.9 …``.

Lines as in the Minor Planet Center's "Export Format for Comet Orbits" (ephemerides and orbital elements) and "Export
Format for Minor-Planet Orbits", with its packed dates: minorplanetcenter.org/iau/info.
"""

import re
from datetime import date

import numpy as np
from astropy import units as u

from planner.errors import InvalidInputError
from planner.visibility.kernels.orbit import GAUSS, Orbit
from planner.visibility.target import Target

MJD_OF_ORDINAL = 678576
_TYPED = re.compile(r"(?:^|\s)(q|a|e|i|node|peri|T|M|epoch)\s*=\s*([^\s=]+)", re.I)
TYPED_EXAMPLE = ("Write it like 2P q=0.331 e=0.850 i=11.9 node=334.8 peri=186.2 T=2026-10-28.5 (au, degrees, date of "
                 "perihelion in TT), or with a= M= epoch= in the place of q= T=.")
# First and last column, counted from one.
_COMET = {"year": (15, 18), "month": (20, 21), "day": (23, 29), "q": (31, 39), "e": (42, 49), "peri": (52, 59),
          "node": (62, 69), "i": (72, 79), "epoch": (82, 89), "name": (103, 158)}
_MINOR = {"epoch": (21, 25), "M": (27, 35), "peri": (38, 46), "node": (49, 57), "i": (60, 68), "e": (71, 79),
          "a": (93, 103), "packed": (1, 7), "name": (167, 194)}
_NUMBER = r"\s*[+-]?\d+\.\d+\s*"
_DAY = re.compile(r"([12]\d{3})-(\d{1,2})-(\d{1,2})(\.\d*)?")


def is_typed_orbit(text: str) -> bool:
    """Say whether a text gives elements: an eccentricity and two more at least."""
    keys = {key.lower() for key, _ in _TYPED.findall(text)}
    return "e" in keys and len(keys) > 2


def typed_orbit(text: str) -> Target:
    """Return the target of typed elements.

    Raises InvalidInputError if one is missing, twice there, or out of its range.
    """
    pairs = [("M" if key == "M" else key.lower(), value) for key, value in _TYPED.findall(text)]
    values = dict(pairs)
    name = _TYPED.sub(" ", text).strip() or "moving target"
    kinds = ({"q", "t"}, {"a", "M", "epoch"})
    wanted = next((kind | {"e", "i", "node", "peri"} for kind in kinds if kind <= set(values)), None)
    if wanted is None or not wanted <= set(values) or len(values) < len(pairs):
        raise InvalidInputError("elements", text, "must hold e, i, node, peri and either q and T or a, M and "
                                "epoch, each once", TYPED_EXAMPLE)
    return _target(name, "comet" if "q" in values else "minor planet",
                   {key: _dated(value) if key in ("t", "epoch") else _number(key, value)
                    for key, value in values.items()})


def is_orbit_line(line: str) -> bool:
    """Say whether a line is one of the published formats."""
    return any(re.fullmatch(_NUMBER, _cut(line, places[key])) is not None
               and all(re.fullmatch(_NUMBER, _cut(line, places[other])) for other in ("e", "peri", "node", "i"))
               for places, key in ((_COMET, "q"), (_MINOR, "a")))


def orbit_line(line: str) -> Target:
    """Return the target of a line of one of the published formats (`is_orbit_line`)."""
    if re.fullmatch(_NUMBER, _cut(line, _COMET["q"])) and re.fullmatch(r"\d{4}", _cut(line, _COMET["year"])):
        values = {key: float(_cut(line, _COMET[key])) for key in ("q", "e", "peri", "node", "i")}
        when = [_cut(line, _COMET[key]) for key in ("year", "month", "day")]
        values["t"] = _mjd(int(when[0]), int(when[1]), 1) + float(when[2]) - 1
        epoch = _cut(line, _COMET["epoch"]).strip()
        if re.fullmatch(r"\d{8}", epoch):
            values["epoch"] = _mjd(int(epoch[:4]), int(epoch[4:6]), int(epoch[6:]))
        name = _cut(line, _COMET["name"]).strip() or _cut(line, (1, 12)).strip()
        return _target(name, "comet", values)
    values = {key: float(_cut(line, _MINOR[key])) for key in ("M", "e", "peri", "node", "i", "a")}
    values["epoch"] = _packed(_cut(line, _MINOR["epoch"]))
    name = _cut(line, _MINOR["name"]).strip() or _cut(line, _MINOR["packed"]).strip()
    return _target(name, "minor planet", values)


def _target(name: str, kind: str, values: dict[str, float]) -> Target:
    """Return a target that stands where it is at perihelion, or at its epoch, until it is placed on a night."""
    if "q" in values:
        distance, perihelion = values["q"], values["t"]
    else:
        if not (0 <= values["e"] < 1 and values["a"] > 0):
            raise InvalidInputError(f"elements of {name}", values["e"], "must have e below 1 where a is given",
                                    "Give q and T.")
        distance = values["a"] * (1 - values["e"])
        turned = (values["M"] + 180) % 360 - 180
        perihelion = values["epoch"] - np.radians(turned) * values["a"] ** 1.5 / GAUSS
    orbit = Orbit(perihelion_distance=distance * u.au, eccentricity=values["e"], inclination=values["i"] * u.deg,
                  node=values["node"] * u.deg, argument=values["peri"] * u.deg, perihelion=float(perihelion),
                  epoch=values.get("epoch"))
    return Target(name, 0 * u.deg, 0 * u.deg, kind=kind, orbit=orbit)


def _cut(line: str, columns: tuple[int, int]) -> str:
    return line[columns[0] - 1:columns[1]]


def _mjd(year: int, month: int, day: int) -> float:
    return float(date(year, month, day).toordinal() - MJD_OF_ORDINAL)


def _packed(text: str) -> float:
    """Return the MJD of a packed date: K01AM is 2001 October 22."""
    if not re.fullmatch(r"[IJK]\d\d[1-9A-C][1-9A-V]", text):
        raise InvalidInputError("epoch", text, "must be a packed date like K269R", "Take the line as it is published.")
    return _mjd((ord(text[0]) - ord("I") + 18) * 100 + int(text[1:3]), int(text[3], 36), int(text[4], 36))


def _dated(text: str) -> float:
    """Return the MJD of ``2026-10-28.54``, or of a Julian date."""
    found = _DAY.fullmatch(text)
    try:
        if found:
            year, month, day, part = found.groups()
            return _mjd(int(year), int(month), int(day)) + float(f"0{part or '.0'}")
        return float(text) - 2400000.5
    except ValueError:
        raise InvalidInputError("date", text, "must be a date like 2026-10-28.54 or a Julian date",
                                TYPED_EXAMPLE) from None


def _number(key: str, text: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise InvalidInputError(key, text, "must be a plain number (au or degrees)", TYPED_EXAMPLE) from None
