"""What a drive's periodic terms do within windows of time, in closed forms: plain floats, (t windows, p phases)."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, cached_property, partial

import numpy as np
import numpy.typing as npt

from planner.tracking.bessel import spherical_bessel
from planner.tracking.mount_frame import Array

ORDER = 4  # of the Legendre series: exact for drift, curvature and two terms more
# Gauss-Legendre nodes for the fourth moment, and the turns in a window up to which the fourth power of a sinusoid comes
# out right with them: 4 pi turns below 2 x nodes - 12. A term of more turns counts as independent of the rest there.
MOMENT_NODES = (12, 32, 64, 128)
NODES_REACH = tuple((2 * count - 12) / (4 * np.pi) for count in MOMENT_NODES[:-1])
CUBE_NODES = 16  # exact for the fourth power of the series
SLOW_TURNS = (2 * MOMENT_NODES[-1] - 12) / (4 * np.pi)
SINUSOID_KURTOSIS = -1.5

Places = npt.NDArray[np.intp]  # indices
# Of the slow periodic terms: weights (t, 3 * CUBE_NODES, p) for their powers 1, 2 and 3, and means of their powers 2
# and 4, (t, 1, p).
Powers = tuple[Array, Array, Array]


def gauss(count: int) -> tuple[Array, Array]:
    """Return Gauss-Legendre nodes and weights for the mean over -1..1."""
    nodes, weights = np.polynomial.legendre.leggauss(count)
    return nodes, weights / 2


def _onto_cube_nodes(count: int) -> Array:
    """Return the matrix (CUBE_NODES, count) from values at nodes to weights of a mean with polynomials to degree 12."""
    (few, few_weights), (nodes, weights) = gauss(CUBE_NODES), gauss(count)
    order = np.arange(3 * ORDER + 1)
    here, there = (np.polynomial.legendre.legvander(places, 3 * ORDER) for places in (few, nodes))
    return (few_weights[:, None] * here * (2 * order + 1)) @ (there.T * weights)


CUBE_RULE = gauss(CUBE_NODES)


@cache  # tables that never change: the one of most nodes takes as long as all the others, and few drives ask for it
def _moment_rule(count: int) -> tuple[Array, Array, Array]:
    """Return nodes and weights of a mean over -1..1, and what takes values at them to `CUBE_NODES`."""
    return *gauss(count), _onto_cube_nodes(count)


class Turns:
    """How far periodic terms turn in windows scaled to -1..1, (t, m), with phases at mid-window (p, m)."""

    def __init__(self, seconds: Array, periods: Array, phases: Array) -> None:
        self.turns = seconds[:, None] / periods
        self.slow = self.turns <= SLOW_TURNS
        self.sine, self.cosine = np.sin(phases), np.cos(phases)

    @cached_property
    def overlaps(self) -> tuple[Array, Array]:
        """The means of products of two terms, even and odd parts about mid-window, their means removed, (t, m, m)."""
        alone = np.sinc(self.turns)
        difference = np.sinc(self.turns[:, :, None] - self.turns[:, None, :])
        total = np.sinc(self.turns[:, :, None] + self.turns[:, None, :])
        # sin(wx + f) = sin f cos wx + cos f sin wx: only the even part has a mean to remove.
        return (difference + total) / 2 - alone[:, :, None] * alone[:, None, :], (difference - total) / 2

    @cached_property
    def with_legendre(self) -> tuple[Array, Array]:
        """The means of P_n, n = 1 to ORDER, with each term's cosine and sine about mid-window, (t, ORDER, m)."""
        bessel = spherical_bessel(np.pi * self.turns, ORDER).transpose(1, 0, 2)
        # Mean of P_n(x) e^{iwx} is i^n j_n(w).
        turn = np.array([1, 1j, -1, -1j])[np.arange(1, ORDER + 1) % 4][:, None]
        return bessel * turn.real, bessel * turn.imag


class Drive:
    """The periodic terms in windows: how they turn there, and their amplitudes, (m,) or (t, m)."""

    def __init__(self, terms: Turns, amplitudes: Array) -> None:
        self.terms, self.turns, self.slow = terms, terms.turns, terms.slow
        self.amplitudes = np.broadcast_to(amplitudes, self.turns.shape)
        fast = np.where(self.slow, 0.0, self.amplitudes**2 / 2)
        self.fast_cumulant = SINUSOID_KURTOSIS * np.sum(fast**2, axis=-1)[:, None]  # (t, 1), of the RA motion

    def known(self) -> "KnownDrive":
        """Return everything worked out."""
        return KnownDrive(self.variance, self.with_legendre, self.fast_cumulant,
                          partial(_some_powers, self.powers(len(self.turns))))

    @cached_property
    def variance(self) -> Array:
        """The variance of all terms together about their mean, (t, p)."""
        sine, cosine = self.terms.sine, self.terms.cosine
        products = self.amplitudes[:, :, None] * self.amplitudes[:, None, :]
        even, odd = (part * products for part in self.terms.overlaps)
        return np.einsum("pi,tij,pj->tp", sine, even, sine) + np.einsum("pi,tij,pj->tp", cosine, odd, cosine)

    @cached_property
    def with_legendre(self) -> Array:
        """The mean of P_n times all terms, n = 1 to ORDER, (t, ORDER, p)."""
        cosines, sines = (part * self.amplitudes[:, None, :] for part in self.terms.with_legendre)
        return np.matmul(cosines, self.terms.sine.T) + np.matmul(sines, self.terms.cosine.T)

    def powers(self, count: int) -> Powers:
        """Return what `_drive_moments` says of the slow terms in the first windows."""
        return _drive_moments(self, count)

    def nodes_needed(self) -> Array:
        """Return the Gauss-Legendre nodes for the fourth power of the slow terms in each window, (t,)."""
        most = np.max(np.where(self.slow, self.turns, 0), axis=-1, initial=0)
        return np.array(MOMENT_NODES)[np.searchsorted(NODES_REACH, most)]

    def at(self, nodes: Array, chosen: Places) -> Array:
        """Return the slow terms together at nodes (q,) of the chosen durations, mean not removed, (t, q, p)."""
        angle = np.pi * self.turns[chosen, None, :] * nodes[:, None]
        weight = (self.amplitudes * self.slow)[chosen, None, :]
        return (np.matmul(np.cos(angle) * weight, self.terms.sine.T)
                + np.matmul(np.sin(angle) * weight, self.terms.cosine.T))


@dataclass(frozen=True)
class KnownDrive:
    """What a drive does in its windows, worked out: see `Drive` for each."""

    variance: Array  # (t, p)
    with_legendre: Array  # (t, ORDER, p)
    fast_cumulant: Array  # (t, 1)
    powers_of: Callable[[Places], Powers]  # moments of the slow terms in some windows: large, and not always asked for

    def powers(self, count: int) -> Powers:
        """Return the moments of the slow terms in the first windows."""
        return self.powers_of(np.arange(count))

    def known(self) -> "KnownDrive":
        """Return itself."""
        return self

    def part(self, lengths: Places, phases: slice, scale: float) -> "KnownDrive":
        """Return some lengths and phases, with all amplitudes scaled."""

        def powers_of(chosen: Places) -> Powers:
            weights, square, fourth = (power[..., phases] for power in self.powers_of(lengths[chosen]))
            if scale == 1:
                return weights, square, fourth
            scales = np.repeat([scale, scale**2, scale**3], CUBE_NODES)[:, None]
            return weights * scales, square * scale**2, fourth * scale**4

        return KnownDrive(self.variance[lengths, phases] * scale**2, self.with_legendre[lengths, :, phases] * scale,
                          self.fast_cumulant[lengths] * scale**4, powers_of)


def _some_powers(powers: Powers, lengths: Places) -> Powers:
    """Return the moments in some of the windows."""
    weights, square, fourth = powers
    return weights[lengths], square[lengths], fourth[lengths]


def _drive_moments(drive: Drive, count: int) -> Powers:
    """Return weights (t, 3 * CUBE_NODES, p) for the window mean of a smooth motion times the slow terms to the power 1,
    2 and 3, one below the other; and the means of their powers 2 and 4, (t, 1, p). In the first `count` windows.

    Short windows need few nodes, windows of many turns more; each goes with its like. The smooth motion's cube is a
    polynomial of degree 12, so all that it can meet of the drive is 13 Legendre components, whatever the turns.
    """
    shape = (count, 3 * CUBE_NODES, drive.terms.sine.shape[0])
    weights, square, fourth = np.empty(shape), np.empty(shape[::2]), np.empty(shape[::2])
    needed = drive.nodes_needed()[:count]
    for few in np.unique(needed):
        chosen = np.flatnonzero(needed == few)
        nodes, even, onto = _moment_rule(int(few))
        turn = drive.at(nodes, chosen)
        turn = turn - np.matmul(even, turn)[:, None, :]
        power2 = turn * turn
        for place, power in enumerate((turn, power2, power2 * turn)):
            weights[chosen, place * CUBE_NODES:(place + 1) * CUBE_NODES] = np.matmul(onto, power)
        square[chosen], fourth[chosen] = np.matmul(even, power2), np.matmul(even, power2 * power2)
    return weights, square[:, None, :], fourth[:, None, :]
