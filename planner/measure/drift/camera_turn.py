"""How far the camera was turned against RA: a worm moves the star along RA alone, so its share in Dec is the angle."""

from dataclasses import dataclass, replace
from typing import Annotated

import numpy as np
from astropy import units as u

from planner.fields import Key
from planner.measure.drift.fit.periodic_terms import basis
from planner.measure.drift.fit.wander_noise import averaged
from planner.measure.drift.model import AxisReport, DriftLog, DriftReport
from planner.measure.error_text import with_error

CERTAIN = 5.0  # standard errors: one straight camera in two million
SMALLEST = 0.5 * u.deg  # below it a hundredth of the worm leaks: nothing worth turning back
LARGEST = 40 * u.deg  # beyond it, which way is east is a guess


@dataclass(frozen=True, kw_only=True)
class CameraTurn:
    """The angle from the RA column towards the Dec column along which the worm moves the star."""

    angle: Annotated[u.Quantity[u.deg], "by which the camera was turned, and the log turned back", Key("turn_deg")]
    error: Annotated[u.Quantity[u.deg], "of that angle, one standard error", Key("turn_error_deg")]

    @property
    def note(self) -> str:
        """What was done, in a sentence."""
        return (f"The camera was turned by {with_error(self.angle.value, self.error.value, '°', sign='+')} "
                "against RA (the worm shows in Dec too): the log is turned back.")


def camera_turn(report: DriftReport) -> CameraTurn | None:
    """Return how far the camera was turned; None if the log does not show that it was.

    Each RA term is fitted on both axes. In step, its amplitude in Dec over that in RA is the tangent of the angle; what
    is out of step is no turn, and forbids one where it is as strong.
    """
    terms = report.ra.periodic
    if not terms:
        return None
    frequencies = np.array([1 / term.period.to_value(u.s) for term in terms])
    (ra, _), (dec, error) = (_waves(report, axis, frequencies) for axis in (report.ra, report.dec))
    weight = np.sum(np.abs(ra) ** 2 / error**2)
    along = np.sum((dec * ra.conj()).real / error**2) / weight
    across = np.sum((dec * ra.conj()).imag / error**2) / weight
    spread = 1 / np.sqrt(weight)
    angle, uncertain = np.arctan(along) * u.rad, spread / (1 + along**2) * u.rad
    if abs(along) < CERTAIN * spread or abs(across) > max(CERTAIN * spread, abs(along) / 2):
        return None
    if not SMALLEST < abs(angle) < LARGEST:
        return None
    return CameraTurn(angle=angle.to(u.deg), error=uncertain.to(u.deg))


def _waves(report: DriftReport, axis: AxisReport, frequencies_hz: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return complex amplitudes (k,) of waves on one axis and their errors."""
    place = 2 * axis.time_s / axis.time_s[-1] - 1
    drift = np.polynomial.legendre.legvander(place, 2)[:, 1:]
    columns = np.column_stack([drift, basis(axis.time_s, frequencies_hz)])
    values = axis.model_arcsec + axis.residual_arcsec + axis.steps_arcsec
    fit = averaged(report.differences, np.diff(values), np.diff(columns, axis=0))
    sines, variances = fit.coefficients[2:], np.diag(fit.covariance)[2:]
    return sines[::2] + 1j * sines[1::2], np.sqrt((variances[::2] + variances[1::2]) / 2)


def turned_back(log: DriftLog, turn: CameraTurn) -> DriftLog:
    """Return the log as a camera along RA would have seen it."""
    cosine, sine = np.cos(turn.angle), np.sin(turn.angle)
    return replace(log, ra=log.ra * cosine + log.dec * sine, dec=log.dec * cosine - log.ra * sine)
