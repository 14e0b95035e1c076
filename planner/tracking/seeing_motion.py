"""Image motion: the air tilts the wavefront and the guide star dances, slower the longer one looks.

Tilt is the gradient of the phase averaged over the aperture (G-tilt), carried past by a frozen wind from any
direction. The part that outlasts a guide exposure cannot be told from an error of the mount.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from astropy import units as u

from planner.checks import check_units
from planner.constants import KOLMOGOROV_FWHM
from planner.tracking.bessel import j1_over_x

PHASE_POWER = 0.0229  # Kolmogorov phase spectrum 0.0229 r0^(-5/3) f^(-11/3)
# Spatial frequencies, per metre. An infinite outer scale leaves power down to the slowest, falling only as the cube
# root of the frequency, so the grid goes far down; the loop needs fine steps above SLOW alone.
SLOWEST, SLOW = 1e-10, 1e-5
SLOW_STEPS, STEPS, ACROSS = 40, 220, 200
HIGHEST = 30.0  # over the aperture


@dataclass(frozen=True)
class ImageMotion:
    """Power spectrum of a star's image motion on one axis, both axes alike."""

    frequency: u.Quantity  # Hz (n,), logarithmic steps
    power: u.Quantity  # arcsec2/Hz (n,), one-sided

    @check_units
    def rms(self, exposure: u.Quantity[u.s]) -> u.Quantity[u.arcsec]:
        """Return the rms per axis of the mean place in exposures of any shape; in none, the instantaneous rms."""
        nu = self.frequency.to_value(u.Hz)
        kept = np.sinc(nu * exposure.to_value(u.s)[..., None]) ** 2
        return np.sqrt(np.trapezoid(kept * self.power.to_value(u.arcsec**2 / u.Hz) * nu, np.log(nu))) * u.arcsec


@check_units
def image_motion(
    *, seeing_fwhm: u.Quantity[u.arcsec], wavelength: u.Quantity[u.nm], aperture: u.Quantity[u.mm],
    wind_speed: u.Quantity[u.m / u.s] = 10 * u.m / u.s, outer_scale: u.Quantity[u.m] | None = None,
) -> ImageMotion:
    r"""Return the spectrum of image motion behind an aperture.

    .. math:: S(\nu) = \frac{2}{V} \int df_y \, \frac{\lambda^2 f^2}{2} \, 0.0229 \, r_0^{-5/3}
              (f^2 + L_0^{-2})^{-11/6} \left[\frac{2 J_1(\pi D f)}{\pi D f}\right]^2, \quad f_x = \nu / V

    Parameters
    ----------
    seeing_fwhm : Quantity [arcsec], scalar
        Long-exposure FWHM at that wavelength and airmass, before the outer scale acts.
    wavelength, aperture : Quantity [length], scalar
        Of the guide star's light; clear diameter of the guider.
    wind_speed : Quantity [m/s], scalar
        Of the turbulence over the aperture; 10 m/s is common practice, no source.
    outer_scale : Quantity [m], optional
        None: infinite, which leaves most slow motion.

    Returns
    -------
    ImageMotion
        Its total is 0.170 lambda^2 D^(-1/3) r0^(-5/3) per axis for an infinite outer scale, within 1 %.

    References
    ----------
    .. [M87] H. M. Martin, PASP 99, 1360 (1987): image motion averaged over an exposure (from memory).
    .. [SR90] M. Sarazin and F. Roddier, A&A 227, 294 (1990): variance of image motion in one direction (from memory).
    """
    wave = wavelength.to_value(u.m)
    r0 = KOLMOGOROV_FWHM * wave / seeing_fwhm.to_value(u.rad)
    frequency, power = _spectrum(wave, aperture.to_value(u.m), wind_speed.to_value(u.m / u.s),
                                 0.0 if outer_scale is None else 1 / outer_scale.to_value(u.m) ** 2)
    return ImageMotion(frequency * u.Hz, power * r0 ** (-5 / 3) * (u.arcsec**2 / u.Hz))


@lru_cache(maxsize=16)  # many cameras, or nights, behind one guide scope
def _spectrum(wave: float, diameter: float, wind: float, inverse: float) -> tuple[np.ndarray, np.ndarray]:
    """Compute `image_motion` for an r0 of 1 m: frequency [Hz], power [arcsec2/Hz]; `inverse`: outer scale^-2 [1/m2]."""
    highest = HIGHEST / diameter
    slow = np.geomspace(SLOWEST, SLOW, SLOW_STEPS, endpoint=False)
    along = np.concatenate([slow, np.geomspace(SLOW, highest, STEPS)])
    across = np.geomspace(SLOWEST / 10, highest, ACROSS)
    f2 = along[:, None] ** 2 + across**2
    tilt = PHASE_POWER * wave**2 * f2 / 2 * (f2 + inverse) ** (-11 / 6)
    integrand = tilt * (2 * j1_over_x(np.pi * diameter * np.sqrt(f2))) ** 2
    both_sides = 2 * np.trapezoid(integrand * across, np.log(across), axis=1)
    return along * wind, 2 * both_sides / wind * u.rad.to(u.arcsec) ** 2
