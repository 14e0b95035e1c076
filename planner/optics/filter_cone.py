"""The cone of light through an interference filter: how much of it still passes a line in the middle of the band."""

from astropy import units as u

from planner.checks import check_units

# Effective index of a filter's layers: 1.5 to 2.1 by the makers' tables (common practice, no source).
EFFECTIVE_INDEX = 2.0
WINGS = 0.01  # that a real band passes beyond its edge, roughly (common practice, no source)


@check_units
def cone_share(wavelength: u.Quantity[u.nm], width: u.Quantity[u.nm], *, focal_ratio: float, obstruction: float = 0.0,
               ) -> float:
    r"""Return the share of a telescope's light that meets a filter at angles at which it still passes its middle line.

    .. math:: \lambda(\theta) = \lambda_0 \sqrt{1 - (\sin\theta / n)^2}, \qquad
              \frac{\min(n^2 w / \lambda_0,\, s^2) - \epsilon^2 s^2}{(1 - \epsilon^2)\, s^2}, \quad s = \frac{1}{2 N}

    A ray that comes slanting finds the band moved to the blue [LW59]_; the line is lost where that is more than half of
    the width w. In the pupil's area that is a circle, cut by the obstruction.

    Parameters
    ----------
    wavelength : Quantity [nm], scalar
        Of the line, and middle of the band :math:`\lambda_0` for light that comes straight.
    width : Quantity [nm], scalar
        Of the band, a box.
    focal_ratio : float
        N of the telescope as it works.
    obstruction : float
        Share of the diameter.

    Returns
    -------
    float
        1 for all filters but the narrowest in the fastest light: from f/2.9 down at 5 nm.

    References
    ----------
    .. [LW59] P. H. Lissberger and W. L. Wilcock, J. Opt. Soc. Am. 49, 126 (1959), doi:10.1364/JOSA.49.000126.
    """
    edge = 1 / (2 * focal_ratio) ** 2
    reached = min(EFFECTIVE_INDEX**2 * float((width / wavelength).to_value(u.one)), edge)
    return max((reached / edge - obstruction**2) / (1 - obstruction**2), WINGS)
