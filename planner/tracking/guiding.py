"""Guiding: how well a star can be placed, and what the loop leaves of the mount's errors.

The image motion of the air is part of the seeing of a long exposure; in the loop it is noise that moves the mount.
"""

from dataclasses import dataclass
from functools import lru_cache
from typing import Annotated

import numpy as np
import numpy.typing as npt
from astropy import units as u

from planner.checks import check_units, require_not_negative, require_positive
from planner.constants import FWHM_PER_SIGMA
from planner.errors import InvalidInputError
from planner.rig.choices import AXES
from planner.tracking.budget import BudgetTerm
from planner.tracking.drive import NO_AMPLITUDES, NO_PERIODS
from planner.tracking.mount_frame import Array
from planner.tracking.seeing_motion import ImageMotion
from planner.tracking.servo import Servo

# Guide exposures that people choose; gains up to the whole error.
EXPOSURES = u.Quantity([0.5, 1, 1.5, 2, 3, 4, 6, 8], u.s)
GAINS = (0.05, 0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0)
# The gain could grow by this factor before the loop oscillates: 6 dB, common practice, no source.
LEAST_GAIN_MARGIN = 2.0


@check_units
def guide_star_noise(
    *, star_rate: u.Quantity[u.electron / u.s], exposure: u.Quantity[u.s], seeing_fwhm: u.Quantity[u.arcsec],
    image_scale: u.Quantity[u.arcsec / u.pix], sky_rate: u.Quantity[u.electron / u.s] = 0 * u.electron / u.s,
    read_noise: u.Quantity[u.electron] = 0 * u.electron,
) -> u.Quantity[u.arcsec]:
    r"""Return the rms error per axis of the place of a guide star, from its photons.

    .. math:: \sigma_x^2 = \frac{\sigma_a^2}{N} \left[1 + 4\tau + \sqrt{\frac{2\tau}{1 + 4\tau}}\right], \quad
              \tau = \frac{2\pi \sigma_a^2 b}{N a^2}, \quad \sigma_a^2 = \sigma^2 + a^2/12

    Parameters
    ----------
    star_rate : Quantity [electron/s], any shape
        All of the star's electrons.
    exposure : Quantity [s], shape that broadcasts
        Of the guide camera.
    seeing_fwhm : Quantity [arcsec], broadcast
        Of the star as it falls on the guide camera, taken as Gaussian.
    image_scale : Quantity [arcsec/pix], broadcast
        Side a of a pixel.
    sky_rate : Quantity [electron/s], broadcast
        Sky and dark current in one pixel.
    read_noise : Quantity [electron], broadcast
        rms; its square counts as background b like sky electrons.

    Returns
    -------
    Quantity [arcsec], broadcast
        Of a good fit: within 5 % of the Cramer-Rao bound for pixels up to half the FWHM; infinite without light.

    References
    ----------
    .. [RS14] B. Rieger and S. Stallinga, ChemPhysChem 15, 664 (2014); formula from memory, tested against the bound.
    """
    return _guide_star_noise(
        (star_rate * exposure).to_value(u.electron), (sky_rate * exposure).to_value(u.electron),
        read_noise.to_value(u.electron), seeing_fwhm.to_value(u.arcsec), image_scale.to_value(u.arcsec / u.pix),
    ) * u.arcsec


def _guide_star_noise(electrons: Array, sky_electrons: Array, read_noise: Array, fwhm_arcsec: Array,
                      scale_arcsec: Array) -> Array:
    """Compute `guide_star_noise` in arcsec on plain floats."""
    scale2 = np.asarray(scale_arcsec) ** 2
    variance = (np.asarray(fwhm_arcsec) / FWHM_PER_SIGMA) ** 2 + scale2 / 12
    background = sky_electrons + np.asarray(read_noise) ** 2
    with np.errstate(divide="ignore", invalid="ignore"):
        tau = 2 * np.pi * variance * background / (electrons * scale2)
        noise = np.sqrt(variance / electrons * (1 + 4 * tau + np.sqrt(2 * tau / (1 + 4 * tau))))
    return np.where(np.asarray(electrons) > 0, noise, np.inf)


SWAY = "sway of the pier"  # its term in a budget
SWAY_POINTS = 161  # of its spectrum


@dataclass(frozen=True)
class GuideLoop:
    """One guide exposure and gain, and what they leave."""

    ra_rms: Annotated[u.Quantity[u.arcsec], "what is left about its mean"]
    dec_rms: Annotated[u.Quantity[u.arcsec], "what is left about its mean"]
    exposure: Annotated[u.Quantity[u.s], "of the guide camera"]
    cycle: u.Quantity  # s, from one correction to the next
    gain: Annotated[float, "share of the error that one correction takes away"]
    terms: tuple[BudgetTerm, ...]  # the residual by cause and axis; in quadrature they make ra_rms and dec_rms
    periods: u.Quantity  # s (m,), of the drive's periodic terms
    free_amplitudes: u.Quantity  # arcsec (m,), of each without a loop, on the equator
    left_amplitudes: u.Quantity  # arcsec (m,), what is left of each, on the equator
    memory: u.Quantity  # s, for which the motion that guide star noise makes resembles itself


@dataclass(frozen=True)
class GuideLoops:
    """What loops leave of a mount's errors, on a grid of guide exposures and gains."""

    servo: Servo
    stable: npt.NDArray[np.bool_]  # (e, g), those whose gain could double
    ra: dict[str, Array]  # variance left by cause (e, g) [arcsec2]
    dec: dict[str, Array]
    periods: u.Quantity  # s (m,)
    amplitudes: u.Quantity  # arcsec (m,)
    left: Array  # (m, e, g), amplitude left of each periodic term [arcsec]

    def rms(self) -> tuple[Array, Array]:
        """Return the residual in RA and Dec (e, g) [arcsec], infinite where the loop oscillates."""
        allowed = self.servo.gain < self.servo.largest_gain[:, None]
        with np.errstate(invalid="ignore"):
            ra, dec = (np.where(allowed, np.sqrt(sum(terms.values())), np.inf) for terms in (self.ra, self.dec))
        return ra, dec

    def best(self) -> GuideLoop:
        """Return the stable loop with the smallest and roundest star; ties go to low gains, then short exposures."""
        ra, dec = (rms**2 for rms in self.rms())
        total = np.where(self.stable, np.maximum(ra, dec) + (ra + dec) / 2, np.inf)
        j, i = np.unravel_index(np.argmin(np.round(total.T, 15)), total.T.shape)
        return self.at(int(i), int(j))

    def like(self, other: GuideLoop) -> GuideLoop:
        """Return the loop with the exposure and gain of another on the same grid."""
        return self.at(*self.place(other))

    def place(self, other: GuideLoop) -> tuple[int, int]:
        """Return the place in the grid of another loop's exposure and gain."""
        return (int(np.argmin(np.abs(self.servo.exposure - other.exposure.to_value(u.s)))),
                int(np.argmin(np.abs(self.servo.gain - other.gain))))

    def at(self, i: int, j: int) -> GuideLoop:
        """Return the loop of one pair of exposure and gain, by their places in the grid."""
        servo = self.servo
        terms = tuple(BudgetTerm(name, axis, np.sqrt(part[name][i, j]) * u.arcsec)
                      for name in self.ra for axis, part in zip(AXES, (self.ra, self.dec), strict=True))
        ra, dec = (np.sqrt(sum(part[i, j] for part in terms.values())) * u.arcsec for terms in (self.ra, self.dec))
        return GuideLoop(
            ra_rms=ra, dec_rms=dec, exposure=servo.exposure[i] * u.s, cycle=servo.cycle[i] * u.s,
            gain=float(servo.gain[j]), terms=terms, periods=self.periods, free_amplitudes=self.amplitudes,
            left_amplitudes=self.left[:, i, j] * u.arcsec,
            memory=_memory(servo.impulse[:, i, j], servo.cycle[i]) * u.s)


@check_units
def guide_loops(
    *, centroid_rms: u.Quantity[u.arcsec], exposures: u.Quantity[u.s] = EXPOSURES, gains: npt.ArrayLike = GAINS,
    latency: u.Quantity[u.s] = 0.5 * u.s, image_motion: ImageMotion | None = None,
    periods: u.Quantity[u.s] = NO_PERIODS, amplitudes: u.Quantity[u.arcsec] = NO_AMPLITUDES,
    declination: u.Quantity[u.deg] = 0 * u.deg, drift_rate_ra: u.Quantity[u.arcsec / u.s] = 0 * u.arcsec / u.s,
    drift_rate_dec: u.Quantity[u.arcsec / u.s] = 0 * u.arcsec / u.s,
    wander: u.Quantity[u.arcsec / u.min**0.5] = 0 * u.arcsec / u.min**0.5,
    jitter: u.Quantity[u.arcsec] = 0 * u.arcsec, sway: u.Quantity[u.arcsec] = 0 * u.arcsec,
    sway_memory: u.Quantity[u.s] = 10 * u.s,
) -> GuideLoops:
    """Return what guide exposures and gains leave of the mount's errors.

    Parameters
    ----------
    centroid_rms : Quantity [arcsec], (e,) or scalar
        Noise of the guide star's place for each exposure: `guide_star_noise`.
    exposures : Quantity [s], (e,)
        Guide exposures to choose from.
    gains : (g,)
        Shares of the measured error that are corrected, 0.02 to 2, to choose from.
    latency : Quantity [s], scalar
        From the end of a guide exposure to the corrected mount, for which the next exposure waits.
    image_motion : ImageMotion, optional
        Of the air over the guider, from `image_motion`. All that the loop follows of it counts as residual, as if the
        main telescope did not share it.
    periods, amplitudes : Quantity [s] and [arcsec], (m,)
        Of the drive's periodic terms, zero to peak, on the equator; they count times the cosine of `declination`.
    declination : Quantity [angle], scalar
        Of the target.
    drift_rate_ra, drift_rate_dec : Quantity [arcsec/s], scalar
        Steady drift on the sky.
    wander : Quantity [arcsec/min(1/2)], scalar
        Random walk per axis.
    jitter : Quantity [arcsec], scalar or (2,)
        rms per axis of motion too fast for the loop, added as it is; both axes or (ra, dec).
    sway : Quantity [arcsec], scalar
        rms per axis of a pier in the wind, which the loop follows in part.
    sway_memory : Quantity [s], scalar
        For which it resembles itself.

    Returns
    -------
    GuideLoops
        The residual is that of a time much longer than every period.

    Raises
    ------
    InvalidInputError
        If an exposure or gain is not positive, latency is negative, or no pair keeps the stability margin.
    """
    servo = _servo(exposures, gains, latency)
    stable = servo.largest_gain[:, None] >= LEAST_GAIN_MARGIN * servo.gain - 1e-9
    if not np.any(stable):
        raise InvalidInputError("gains", list(servo.gain), "must hold one at which the loop is stable",
                                "Try smaller gains or a shorter latency.")
    white = np.broadcast_to(centroid_rms.to_value(u.arcsec), servo.exposure.shape)[:, None] ** 2
    walk = wander.to_value(u.arcsec / u.s**0.5) ** 2
    shake = np.broadcast_to(jitter.to_value(u.arcsec), 2) ** 2
    one = np.ones(stable.shape)
    with np.errstate(invalid="ignore"):
        both = {
            "guide star noise": white * servo.noise, "image motion": _air(servo, image_motion),
            "wander": walk * servo.walk if walk else 0 * one}
        sawtooth = [(rate.to_value(u.arcsec / u.s) * servo.cycle[:, None]) ** 2 / 12 * one
                    for rate in (drift_rate_ra, drift_rate_dec)]
    left = _left(servo, periods, amplitudes)
    periodic = (left**2).sum(axis=0) / 2 * np.cos(declination.to_value(u.rad)) ** 2
    ra = {**both, "periodic error": periodic, "drift": sawtooth[0], "jitter": shake[0] * one}
    dec = {**both, "periodic error": 0 * one, "drift": sawtooth[1], "jitter": shake[1] * one}
    if sway > 0:
        ra[SWAY] = dec[SWAY] = _swaying(servo, sway.to_value(u.arcsec), sway_memory.to_value(u.s))
    return GuideLoops(servo, stable, ra, dec, periods, amplitudes, left)


def _memory(impulse: Array, cycle: float) -> float:
    r"""Return the integral of the squared autocorrelation of the motion that white noise makes [s].

    The held correction's autocorrelation runs straight from one cycle to the next,

    .. math:: T = c \sum_m \frac{\rho_m^2 + \rho_m \rho_{m+1} + \rho_{m+1}^2}{3}
    """
    power = np.abs(np.fft.rfft(impulse, 2 * impulse.size)) ** 2
    same = np.fft.irfft(power)[:impulse.size]
    rho = same / same[0]
    one_side = np.sum(rho[:-1] ** 2 + rho[:-1] * rho[1:] + rho[1:] ** 2) / 3
    return float(2 * cycle * one_side)


def _servo(exposures: u.Quantity, gains: npt.ArrayLike, latency: u.Quantity) -> Servo:
    """Return the checked grid of loops."""
    exposure = np.atleast_1d(require_positive("exposures", exposures, u.s).to_value(u.s))
    delay = float(require_not_negative("latency", latency, u.s).to_value(u.s))
    gain = np.atleast_1d(np.asarray(gains, dtype=float))
    if not (np.all(gain >= 0.02) and np.all(gain <= 2)):
        raise InvalidInputError("gains", list(gain), "must be 0.02 to 2", "Give shares of the error, e.g. 0.5.")
    return _known_servo(tuple(exposure), tuple(gain), delay)


@lru_cache(maxsize=8)
def _known_servo(exposure: tuple[float, ...], gain: tuple[float, ...], latency: float) -> Servo:
    """Return the grid of loops, with what it has worked out before: it is asked for every star and camera."""
    seconds = np.array(exposure)
    return Servo(seconds, np.array(gain), seconds + latency, latency)


def _air(servo: Servo, motion: ImageMotion | None) -> Array:
    """Return the variance (e, g) that image motion drives, arcsec2."""
    if motion is None:
        return np.zeros((servo.exposure.size, servo.gain.size))
    return servo.spectrum(motion.frequency.to_value(u.Hz), motion.power.to_value(u.arcsec**2 / u.Hz))


def _swaying(servo: Servo, sway: float, memory: float) -> Array:
    r"""Return the variance (e, g) left of a sway, arcsec2: its spectrum 4 σ²τ/(1 + (2π f τ)²) through the loop."""
    frequency = np.geomspace(1e-3, 1e3, SWAY_POINTS) / (2 * np.pi * memory)
    share = frequency / (1 + (2 * np.pi * frequency * memory) ** 2)
    whole = np.trapezoid(share, np.log(frequency))
    left: Array = np.trapezoid(servo.sinusoid(frequency) * share[:, None, None], np.log(frequency), axis=0)
    return left * (sway**2 / whole)


def _left(servo: Servo, periods: u.Quantity, amplitudes: u.Quantity) -> Array:
    """Return the amplitude (m, e, g) left of each periodic term, arcsec."""
    require_positive("periods", periods, u.s, "Give the time of one turn.")
    if periods.shape != amplitudes.shape or periods.ndim != 1:
        raise InvalidInputError("periods", f"{periods.size} periods, {amplitudes.size} amplitudes",
                                "must be pairs of period and amplitude", "Give one amplitude per period.")
    return amplitudes.to_value(u.arcsec)[:, None, None] * np.sqrt(servo.sinusoid(1 / periods.to_value(u.s)))
