"""Numbers of nature that more than one room uses, each with its source."""

from astropy import units as u

# IERS Conventions (2010), table 1.1: nominal mean angular velocity of the Earth; a mean sidereal day of
# 86164.0905 s of UT1, hence 15.041067 arcsec of hour angle per second.
SIDEREAL_DAY = 86164.0905 * u.s
SIDEREAL_RATE = (360 * u.deg / SIDEREAL_DAY).to(u.arcsec / u.s)
SIDEREAL_RAD_PER_S = float(SIDEREAL_RATE.to_value(u.rad / u.s))  # for float kernels

# FWHM of a Gaussian in units of its standard deviation: 2 sqrt(2 ln 2).
FWHM_PER_SIGMA = 2.354820045030949

# Standard acceleration of gravity: 3rd General Conference on Weights and Measures (1901), exact by convention.
STANDARD_GRAVITY = 9.80665 * u.m / u.s**2
