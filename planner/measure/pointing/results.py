"""What goes into a pointing fit and what comes out of it."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated

import numpy as np
from astropy import units as u

from planner.errors import InvalidInputError
from planner.fields import Key, told
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
    value: u.Quantity[u.arcsec]
    error: u.Quantity[u.arcsec]
    meaning: Annotated[str, "of the term, for an observer there"]
    separable: bool = True  # False: tied to others, only their sum is measured
    alone = told(u.arcsec, "of the term; null where it is tied to others",
                 lambda term: term.value if term.separable else None, key="value_arcsec")
    alone_error = told(u.arcsec, "of the term, one standard error",
                       lambda term: term.error if term.separable else None, key="error_arcsec")


@dataclass(frozen=True, kw_only=True)
class TiedTerms:
    """Terms that these sightings cannot separate, and the value of the first if all of it were that one."""

    names: Annotated[tuple[str, ...], "of the terms", Key("terms")]
    value: Annotated[u.Quantity[u.arcsec], "of the first, if all of it were that one"]
    error: Annotated[u.Quantity[u.arcsec], "of that value"]
    as_one = told(str, "the first of them", lambda group: group.names[0])


@dataclass(frozen=True, kw_only=True)
class HarmonicTerm:
    """An error of one axis that repeats as it turns, added to its reading: sine and cosine of so many turns."""

    axis: Annotated[str, "polar or declination"]
    per_turn: Annotated[int, "waves in one turn of the axis"]
    sine: Annotated[u.Quantity[u.arcsec], "amplitude of the sine"]
    sine_error: Annotated[u.Quantity[u.arcsec], "of the sine"]
    cosine: Annotated[u.Quantity[u.arcsec], "amplitude of the cosine"]
    cosine_error: Annotated[u.Quantity[u.arcsec], "of the cosine"]


@dataclass(frozen=True, kw_only=True)
class PointingFit:
    """The fitted model and how far it can be trusted."""

    terms: tuple[FittedTerm, ...]
    by_name = told(dict[str, FittedTerm], "of the model, by name", lambda fit: {term.name: term for term in fit.terms},
                   key="terms")
    model: PointingTerms
    correlations: np.ndarray  # (k, k), of `terms`, then sine and cosine of each harmonic
    tied: Annotated[tuple[TiedTerms, ...], "terms that these sightings cannot tell apart"]
    held: Annotated[tuple[str, ...], "terms left at zero because they add nothing", Key("held_at_zero")]
    harmonics: Annotated[tuple[HarmonicTerm, ...], "errors that repeat with an axis' turn; those that cross-validation "
                         "keeps"]
    rms_before: Annotated[u.Quantity[u.arcsec], "pointing error per axis, of the good sightings"]
    rms_after: Annotated[u.Quantity[u.arcsec], "what the model leaves of it"]
    rms_held_out: Annotated[u.Quantity[u.arcsec], "the same, each sighting predicted from all others"]
    outliers: np.ndarray  # (m,) rows, from 0
    residual: u.Quantity  # arcsec (n, 2): model less truth, east and north, every row
    polar_axis: Annotated[PolarError | None, "the polar axis; null where its two angles were not fitted"]
    polar_axis_error: PolarError | None  # 1 sigma
    latitude: Annotated[u.Quantity[u.deg], "of the place, north positive"]
    notes: Annotated[tuple[str, ...], "what else is to be known"]
    doubts: Annotated[tuple[Doubt, ...], "what speaks against the sightings"] = ()
    names = told(tuple[str, ...], "of rows and columns", lambda fit: [term.name for term in fit.terms],
                 key="correlations.terms")
    matrix = told(np.ndarray, "correlation of the error of each term with each", lambda fit: fit.correlations[
        :len(fit.terms), :len(fit.terms)], key="correlations.matrix")
    rows_aside = told(tuple[int, ...], "sightings set aside, by row from 1",
                      lambda fit: [int(row) + 1 for row in fit.outliers], key="outliers")
    altitude_uncertainty = told(u.arcmin, "of the altitude error, one standard error", lambda fit:
                                fit.polar_axis_error.altitude_error, key="polar_axis.altitude_uncertainty_arcmin")
    azimuth_uncertainty = told(u.arcmin, "of the azimuth error, one standard error", lambda fit:
                               fit.polar_axis_error.azimuth_error, key="polar_axis.azimuth_uncertainty_arcmin")


@dataclass(frozen=True, kw_only=True)
class Outlier:
    """A sighting that was set aside: model less truth."""

    row: Annotated[int, "among the sightings, from 1"]
    line: Annotated[int, "in the file"]
    east: Annotated[u.Quantity[u.arcsec], "by which the model lies east of it"]
    north: Annotated[u.Quantity[u.arcsec], "by which the model lies north of it"]


@dataclass(frozen=True, kw_only=True)
class SetAside:
    """How many sightings there were, and which were set aside."""

    sightings: Annotated[int, "in the file"]
    outliers: Annotated[tuple[Outlier, ...], "sightings set aside", Key("outlier_details")]


def set_aside(fit: PointingFit, lines: Sequence[int] | np.ndarray) -> SetAside:
    """Return the sightings that were set aside; `lines` (n,) are the line numbers of all in their file."""
    return SetAside(sightings=len(lines), outliers=tuple(
        Outlier(row=int(row) + 1, line=int(lines[row]), east=east, north=north)
        for row, (east, north) in zip(fit.outliers, fit.residual[fit.outliers], strict=True)))
