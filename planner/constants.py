"""Numbers of nature that more than one room uses, each with its source."""

from astropy import units as u

# IERS Conventions (2010), table 1.1: nominal mean angular velocity of the Earth; a mean sidereal day of
# 86164.0905 s of UT1, hence 15.041067 arcsec of hour angle per second.
SIDEREAL_DAY = 86164.0905 * u.s
SIDEREAL_RATE = (360 * u.deg / SIDEREAL_DAY).to(u.arcsec / u.s)
SIDEREAL_RAD_PER_S = float(SIDEREAL_RATE.to_value(u.rad / u.s))  # for float kernels

# Turbulence after Kolmogorov: FWHM of a long exposure in units of wavelength / r0, half maximum of the transform of
# exp(-3.44 (f wavelength/r0)^(5/3)), as in galsim.Kolmogorov; papers round it to 0.976 or 0.98.
KOLMOGOROV_FWHM = 0.9758634299
# Outer scale typical of the turbulence over an observatory: A. Tokovinin, PASP 114, 1156 (2002), doi:10.1086/342683. A
# smaller one leaves less slow image motion for the guide loop to chase.
OUTER_SCALE = 25 * u.m
AIR_SPREAD = 0.25  # of the logarithm of image motion, by wind and outer scale (common practice, no source)

# FWHM of a Gaussian in units of its standard deviation: 2 sqrt(2 ln 2).
FWHM_PER_SIGMA = 2.354820045030949

# Standard acceleration of gravity: 3rd General Conference on Weights and Measures (1901), exact by convention.
STANDARD_GRAVITY = 9.80665 * u.m / u.s**2
RAYLEIGH_MEDIAN = 1.1774100225154747  # of a distance in a plane, in standard deviations per axis: sqrt(2 ln 2)
