"""How motion widens one star, as a table made once: elongation, width and noise area for any wander.

The table spans the variance along the wander, the variance across it, and how the wander along its axis is spread in
time (its excess kurtosis). It holds corrections, in logarithms, to what a Gaussian star would do; they are small and
smooth. The pixel is the mean over its directions to the wander.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any

import numpy as np
from astropy import units as u

from planner.checks import Rule, check, require_not_negative
from planner.optics.quarter_plane import QuarterPlane
from planner.optics.star_image import first_guess, star_transfer
from planner.optics.still_star import FREQUENCIES

# Nodes in q = V/(V + S2), with S2 the still star's own moment: 0 to 40 S2, a uniform trail of 9 widths.
HIGHEST_RATIO = 40.0
ALONG_NODES, ACROSS_NODES = 9, 7
# Excess kurtosis of the nodes: sinusoid, uniform trail, parabolic and Gaussian wander, and one with long tails.
KURTOSES = (-1.5, -1.2, -6 / 7, 0.0, 1.5)
FINE = (65, 33, 31)  # of the table that is looked up: along, across, kurtosis


@dataclass(frozen=True)
class MotionEffect:
    """A moving star: arrays of the shape of the motion asked for."""

    elongation: np.ndarray  # 1 - minor/major of the adaptive moments
    fwhm: u.Quantity[u.arcsec]  # geometric mean of the half-maximum widths
    noise_equivalent_area: u.Quantity[u.arcsec**2]


@dataclass(frozen=True)
class MotionResponse:
    """The answer of one star on one camera to any wander; made by `motion_response`."""

    still: MotionEffect
    central_pixel_fraction: float  # of a still star's light, as of `StillStar`
    still_variance: float  # arcsec2, adaptive moment of the still star
    _table: np.ndarray  # (3, along, across, kurtosis) logarithms of corrections: axis ratio, width, area

    def at(self, variance_major: u.Quantity[u.arcsec**2], variance_minor: u.Quantity[u.arcsec**2],
           excess_kurtosis: np.ndarray | float) -> MotionEffect:
        """Return what this wander does to the star.

        Parameters
        ----------
        variance_major, variance_minor : Quantity [arcsec2], any shapes that broadcast
            Of the star's place during the exposure, along and across its long axis.
        excess_kurtosis : array or float
            Of the place along the long axis: -1.2 a uniform trail, -1.5 a sinusoid over whole cycles, 0 a Gaussian.
            Held between -1.5 and 1.5.

        Returns
        -------
        MotionEffect, shape of the broadcast
            Within 0.01 of `star_image` in elongation for symmetric wander to 4 FWHM end to end and pixels to 2 widths
            of the seeing. A lopsided wander (part of a sine) comes within 0.01 up to an elongation of 0.2, 0.05
            beyond. Variances beyond 40 times the still star's grow as those of a Gaussian.

        Raises
        ------
        InvalidInputError
            If a variance is negative or has a wrong unit, or the kurtosis is not finite.
        """
        major = require_not_negative("variance_major", variance_major, u.arcsec**2, "Give a variance.").value
        minor = require_not_negative("variance_minor", variance_minor, u.arcsec**2, "Give a variance.").value
        kurtosis = check("excess_kurtosis", np.asarray(excess_kurtosis) * u.one,
                         Rule(unit=u.one, kind="quantity", at_least=-2.001, remedy="No wander has less than -2.")).value
        grown, corrections = self._asked(major, minor, kurtosis)
        width, area = corrections(1), corrections(2)
        return MotionEffect(_elongation(*grown, corrections(0)),
                            self.still.fwhm * np.sqrt(_both(*grown)) * np.exp(width),
                            self.still_area * _both(*grown) * np.exp(area) * u.arcsec**2)

    def elongation_and_area(self, major_arcsec2: np.ndarray, minor_arcsec2: np.ndarray,
                            kurtosis: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Compute the elongation of `at` (k, n), and the noise-equivalent area [arcsec2] of the first row (n,)."""
        grown, corrections = self._asked(major_arcsec2, minor_arcsec2, kurtosis)
        first = tuple(growth[0] for growth in grown)
        return _elongation(*grown, corrections(0)), self.still_area * _both(*first) * np.exp(corrections(2, 0))

    def _asked(self, major_arcsec2: np.ndarray, minor_arcsec2: np.ndarray, kurtosis: np.ndarray
               ) -> tuple[tuple[np.ndarray, np.ndarray], Callable[..., np.ndarray]]:
        """Return how a Gaussian star grows along and across, and what looks up one correction to it."""
        major, minor, kurtosis = np.broadcast_arrays(major_arcsec2, minor_arcsec2, kurtosis)
        grown = 1 + major / self.still_variance, 1 + minor / self.still_variance
        top = HIGHEST_RATIO / (1 + HIGHEST_RATIO)
        low, high = KURTOSES[0], KURTOSES[-1]
        cell, shares = _cells(self._table.shape[1:], (
            (1 - 1 / grown[0]) / top, (1 - 1 / grown[1]) / top, (kurtosis - low) / (high - low)))

        def correction(which: int, row: Any = ...) -> np.ndarray:
            return _interpolated(self._table[which], cell[row], [share[row] for share in shares])
        return grown, correction

    @cached_property
    def still_area(self) -> float:
        """Noise-equivalent area of the still star [arcsec2]."""
        return float(self.still.noise_equivalent_area.to_value(u.arcsec**2))


def motion_response(
    *, seeing_fwhm: u.Quantity[u.arcsec], wavelength: u.Quantity[u.nm], aperture: u.Quantity[u.mm],
    obstruction: float = 0.0, image_scale: u.Quantity[u.arcsec / u.pix],
    focus_blur_fwhm: u.Quantity[u.arcsec] = 0 * u.arcsec, outer_scale: u.Quantity[u.m] | None = None,
) -> MotionResponse:
    """Return the table of one still star's answer to motion; parameters, units and errors as in `star_image`."""
    transfer = star_transfer(seeing_fwhm, wavelength, aperture, obstruction, image_scale, focus_blur_fwhm, outer_scale)
    plane = QuarterPlane.of(transfer, *FREQUENCIES)
    unmoved = np.ones((1, plane.u.size)), np.ones((1, plane.v.size))
    first = np.array([first_guess(transfer)[0]])
    moments = plane.moments(*unmoved, first, first)
    variance = float(np.sqrt(moments[0] * moments[1])[0])
    still = MotionEffect(np.zeros(()), plane.width(*unmoved, *moments)[0] * u.arcsec,
                         plane.area(*unmoved)[0] * u.arcsec**2)
    share = min(plane.top() * transfer.pixel_arcsec**2, 1.0)
    return MotionResponse(still, share, variance, _table(plane, variance, still))


def _table(plane: QuarterPlane, variance: float, still: MotionEffect) -> np.ndarray:
    """Compute the corrections at the nodes and spread them over the fine table."""
    along, across = _chebyshev(ALONG_NODES), _chebyshev(ACROSS_NODES)
    nodes = _corrections(plane, variance, still, along, across)
    for spread in _spreads():
        nodes = np.tensordot(spread, nodes, (1, 2))
    return np.ascontiguousarray(np.moveaxis(nodes, -1, 0))


@lru_cache(maxsize=1)
def _spreads() -> tuple[np.ndarray, ...]:
    """Return what spreads the nodes over the fine table, along the kurtosis, across and along: the same for all."""
    axes = (np.array(KURTOSES), _chebyshev(ACROSS_NODES), _chebyshev(ALONG_NODES))
    return tuple(_resampling(nodes, np.linspace(nodes[0], nodes[-1], count))
                 for nodes, count in zip(axes, FINE[::-1], strict=True))


def _corrections(plane: QuarterPlane, variance: float, still: MotionEffect, along: np.ndarray,
                 across: np.ndarray) -> np.ndarray:
    """Compute logarithms of (axis ratio, width, area) over those of a Gaussian star: (along, across, kurtosis, 3)."""
    top = HIGHEST_RATIO / (1 + HIGHEST_RATIO)
    major_list, minor_list = (variance * top * q / (1 - top * q) for q in (along, across))
    shape = (along.size, across.size, len(KURTOSES))
    major = np.broadcast_to(major_list[:, None, None], shape).ravel()
    minor = np.broadcast_to(minor_list[None, :, None], shape).ravel()
    wander = np.stack([_wander(plane.u, major_list, kurtosis) for kurtosis in KURTOSES], axis=1)
    moved = np.broadcast_to(wander[:, None], (*shape, plane.u.size)).reshape(major.size, -1)
    moved_across = np.exp(-2 * np.pi**2 * minor[:, None] * plane.v**2)
    larger, smaller = plane.moments(moved, moved_across, variance + major, variance + minor)
    gauss_major, gauss_minor = 1 + major / variance, 1 + minor / variance
    both = np.sqrt(gauss_major * gauss_minor)
    width = plane.width(moved, moved_across, larger, smaller) / still.fwhm.value
    area = plane.area(moved, moved_across) / still.noise_equivalent_area.value
    logs = [np.log(smaller / larger * gauss_major / gauss_minor) / 2, np.log(width / np.sqrt(both)),
            np.log(area / both)]
    return np.stack(logs, axis=-1).reshape(*shape, 3)


def _wander(frequency: np.ndarray, variance: np.ndarray, kurtosis: float) -> np.ndarray:
    r"""Compute the characteristic function of a symmetric wander (n variances, frequencies) [1/arcsec, arcsec2].

    Below zero kurtosis the density is :math:`(1 - x^2)^{a-1}` with kurtosis :math:`-6/(2a+3)`: arcsine, uniform,
    parabola. Zero is a Gaussian; above it :math:`(1 + V k^2 \kappa/6)^{-3/\kappa}`, the symmetric variance-gamma law.
    """
    turns = 2 * np.pi * frequency * np.sqrt(variance)[:, None]
    if kurtosis == 0:
        return np.exp(-turns**2 / 2)
    if kurtosis > 0:
        return (1 + turns**2 * kurtosis / 6) ** (-3 / kurtosis)
    power = (-6 / kurtosis - 3) / 2
    turns = turns * math.sqrt(2 * power + 1)
    if power == 0.5:  # J0, as a mean over the phase of a sinusoid: exact for all frequencies with light
        phases = np.cos(np.pi * (np.arange(64) + 0.5) / 128)
        return np.mean(np.cos(turns[..., None] * phases), axis=-1)
    if power == 1:
        return np.sinc(turns / np.pi)
    small = np.abs(turns) < 1e-2
    safe = np.where(small, 1.0, turns)
    return np.where(small, 1 - turns**2 / 10, 3 * (np.sin(safe) - safe * np.cos(safe)) / safe**3)


def _chebyshev(count: int) -> np.ndarray:
    """Return Chebyshev nodes from 0 to 1, both ends among them."""
    return (1 - np.cos(np.pi * np.arange(count) / (count - 1))) / 2


def _resampling(nodes: np.ndarray, places: np.ndarray) -> np.ndarray:
    """Return the matrix (places, nodes) that evaluates the polynomial through values at the nodes."""
    matrix = np.ones((places.size, nodes.size))
    for this, node in enumerate(nodes):
        for other in np.delete(nodes, this):
            matrix[:, this] *= (places - other) / (node - other)
    return matrix


def _cells(shape: tuple[int, ...], unit: tuple[np.ndarray, ...]) -> tuple[np.ndarray, list[np.ndarray]]:
    """Return where in a flat table coordinates from 0 to 1 lie, and how far towards the next nodes; edges hold."""
    cell, shares = np.zeros(unit[0].shape, np.intp), []
    for size, coordinate in zip(shape, unit, strict=True):
        place = np.clip(coordinate, 0, 1) * (size - 1)
        index = np.minimum(place.astype(np.intp), size - 2)
        shares.append(place - index)
        cell = cell * size + index
    return cell, shares


def _interpolated(table: np.ndarray, cell: np.ndarray, shares: list[np.ndarray]) -> np.ndarray:
    """Look up a table (n, m, k) linearly in its `_cells`."""
    flat, strides = table.reshape(-1), (table.shape[1] * table.shape[2], table.shape[2], 1)

    def between(offset: int, axis: int) -> np.ndarray:
        if axis == table.ndim:
            return flat.take(cell + offset)
        low, high = between(offset, axis + 1), between(offset + strides[axis], axis + 1)
        high -= low  # written over: these arrays are large
        high *= shares[axis]
        high += low
        return high
    return between(0, 0)


def _elongation(along: np.ndarray, across: np.ndarray, correction: np.ndarray) -> np.ndarray:
    ratio = np.sqrt(across / along) * np.exp(correction)
    return 1 - np.minimum(ratio, 1 / ratio)


def _both(along: np.ndarray, across: np.ndarray) -> np.ndarray:
    """Return by how much a Gaussian star's area grows."""
    return np.sqrt(along * across)
