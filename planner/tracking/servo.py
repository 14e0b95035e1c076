"""The guide loop as a sampled control loop, exact between the samples: float kernels, (e exposures, g gains).

Cycle k exposes from kT to kT + E and sees the mean error of that time. The correction, gain x error, is there at
kT + E + latency and is held: the loop is an integrator. An exposure during which a correction arrives sees the
share of it that is left. All results are variances for a disturbance of one unit.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from planner.tracking.mount_frame import Array

STEPS = 1024  # of the impulse response: gain 0.02 has died away to 1e-9 by then
ANGLES = 2048  # round the unit circle, for the limit of stability


@dataclass(frozen=True)
class Servo:
    """Guide loops on a grid of exposures and gains."""

    exposure: Array  # s (e,)
    gain: Array  # (g,)
    cycle: Array  # s (e,), from one exposure's start to the next
    latency: float  # s, from the end of an exposure to its correction

    @property
    def seen(self) -> Array:
        """Share of a correction that the exposure i cycles later sees, (e, i); the last is 1."""
        taps = int(np.max(np.ceil((self.exposure + self.latency) / self.cycle - 1e-9)))
        delay = np.arange(taps + 1) * self.cycle[:, None] - self.latency
        return np.clip(delay / self.exposure[:, None], 0, 1)

    def _steps_seen(self, angle: npt.NDArray[np.floating]) -> Array:
        """Return the transform of the growth of `seen` at digital angles (f, e) or (f, 1), as (f, e)."""
        growth = np.diff(self.seen, axis=1, prepend=0)
        powers = np.exp(-1j * angle[..., None] * np.arange(growth.shape[1]))
        return np.sum(powers * growth, axis=-1)

    @cached_property
    def largest_gain(self) -> Array:
        """Return the gain (e,) at which the loop just oscillates."""
        angle = np.linspace(0, np.pi, ANGLES + 1)[1:, None]
        loop = self._steps_seen(angle) / (1 - np.exp(-1j * angle))
        # Where the loop turns the error by half a turn: Im changes sign (Re there, by proportion), or the fastest
        # alternation.
        now, after = loop[:-1], loop[1:]
        change = now.imag * after.imag < 0
        share = now.imag / np.where(change, now.imag - after.imag, 1)
        turned = np.where(change, -(now.real + share * (after.real - now.real)), 1e-12)
        return 1 / np.maximum(np.max(turned, axis=0), -loop.real[-1])

    @cached_property
    def impulse(self) -> Array:
        """The held correction after each cycle for one false error of unit size, (STEPS, e, g).

        From its transform round the unit circle. Loops beyond the limit of stability come out as infinite.
        """
        angle = 2 * np.pi / STEPS * np.arange(STEPS // 2 + 1)[:, None]
        unstable = self.gain >= self.largest_gain[:, None]
        return np.where(unstable, np.inf, np.fft.irfft(self._held(angle), STEPS, axis=0))

    def _held(self, angle: npt.NDArray[np.floating]) -> Array:
        """Return the held correction per unit error seen at digital angles (f, e) or (f, 1), complex (f, e, g)."""
        return self.gain / ((1 - np.exp(-1j * angle))[..., None] + self.gain * self._steps_seen(angle)[..., None])

    def correction(self, frequency: Array) -> tuple[Array, Array]:
        """Return mean over an exposure (f, e) and held correction per unit error seen (f, e, g), both complex."""
        turns = frequency[:, None] * self.exposure
        mean = np.sinc(turns) * np.exp(1j * np.pi * turns)
        return mean, self._held(2 * np.pi * frequency[:, None] * self.cycle)

    def sinusoid(self, frequency: Array) -> Array:
        """Return the mean square left of a motion e^(i w t), (f, e, g): 0 followed perfectly, 1 not corrected."""
        mean, gained = self.correction(frequency)
        held = gained * mean[..., None]
        middle = frequency[:, None] * (self.exposure + self.latency + self.cycle / 2)
        moved = np.sinc(frequency[:, None] * self.cycle) * np.exp(2j * np.pi * middle)
        return 1 + np.abs(held) ** 2 - 2 * np.real(np.conj(held) * moved[..., None])

    @cached_property
    def noise(self) -> Array:
        """The variance that white noise of unit variance in the measured error drives, (e, g)."""
        return np.sum(self.impulse**2, axis=0)

    def spectrum(self, frequency: Array, power: Array) -> Array:
        """Return the variance that a measured motion of one-sided power (f,) drives, (e, g); log-spaced grid."""
        mean, gained = self.correction(frequency)
        density = np.abs(gained * mean[..., None]) ** 2 * (power * frequency)[:, None, None]
        return np.trapezoid(density, np.log(frequency), axis=0)

    @cached_property
    def walk(self) -> Array:
        """The variance left of a random walk of unit variance per second, (e, g).

        A step at time s of a cycle stands uncorrected to the first correction and shrinks by the step response of the
        loop from there; an exposure under way sees the share w of it, uniform in 0..1. Mean over s, in closed form.
        """
        impulse = self.impulse
        before = np.cumsum(impulse, axis=0) - impulse
        rest = 1 - before
        exposure, cycle = self.exposure[:, None], self.cycle[:, None]
        under_way = np.sum(rest**2 - rest * impulse + impulse**2 / 3, axis=0)
        between = np.sum(rest**2, axis=0)
        first = exposure + self.latency - cycle / 2
        return first + exposure * under_way + (cycle - exposure) * between
