"""What goes into a pointing fit and what comes out of it."""

from dataclasses import dataclass

import numpy as np
from astropy import units as u

from planner.errors import InvalidInputError
from planner.measure.drift.doubts import Doubt
from planner.rig.choices import PIER_SIDES
from planner.tracking.pointing_model import PointingTerms, PolarError


@dataclass(frozen=True, kw_only=True)
class PointingData:
    """Sightings: where the tube looked on the sky, and what the mount displayed."""

    hour_angle: u.Quantity  # deg (n,), west positive
    declination: u.Quantity
    mount_hour_angle: u.Quantity
    mount_declination: u.Quantity
    pier_side: tuple[str, ...]  # "east" or "west": where the telescope is
    latitude: u.Quantity

    def __post_init__(self) -> None:
        sizes = {item.shape for item in (self.hour_angle, self.declination, self.mount_hour_angle,
                                         self.mount_declination)} | {(len(self.pier_side),)}
        if len(sizes) != 1:
            raise InvalidInputError("sightings", sizes, "must have one value in each column", "Complete the rows.")
        for side in self.pier_side:
            if side not in PIER_SIDES:
                raise InvalidInputError("pier_side", side, "must be east or west",
                                        "Name the side of the pier where the telescope is.")


@dataclass(frozen=True, kw_only=True)
class FittedTerm:
    """One term, with its error (1 sigma)."""

    name: str
    value: u.Quantity
    error: u.Quantity
    separable: bool = True  # False: tied to others, only their sum is measured


@dataclass(frozen=True, kw_only=True)
class TiedTerms:
    """Terms that these sightings cannot separate, and the value of the first if all of it were that one."""

    names: tuple[str, ...]
    value: u.Quantity
    error: u.Quantity


@dataclass(frozen=True, kw_only=True)
class HarmonicTerm:
    """An error of one axis that repeats as it turns, added to its reading: sine and cosine of so many turns."""

    axis: str  # "polar" or "declination"
    per_turn: int
    sine: u.Quantity  # arcsec
    sine_error: u.Quantity
    cosine: u.Quantity
    cosine_error: u.Quantity


@dataclass(frozen=True, kw_only=True)
class PointingFit:
    """The fitted model and how far it can be trusted."""

    terms: tuple[FittedTerm, ...]
    model: PointingTerms
    correlations: np.ndarray  # (k, k), of `terms`, then sine and cosine of each harmonic
    tied: tuple[TiedTerms, ...]
    held: tuple[str, ...]  # terms left at zero because they add nothing
    harmonics: tuple[HarmonicTerm, ...]  # only those that cross-validation keeps
    rms_before: u.Quantity  # per axis, of the good sightings
    rms_after: u.Quantity
    rms_held_out: u.Quantity  # each sighting predicted from all others
    outliers: np.ndarray  # (m,) rows, from 0
    residual: u.Quantity  # arcsec (n, 2): model less truth, east and north, every row
    polar_axis: PolarError | None  # None if not fitted
    polar_axis_error: PolarError | None  # 1 sigma
    latitude: u.Quantity
    notes: tuple[str, ...]
    doubts: tuple[Doubt, ...] = ()
