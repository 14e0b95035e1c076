"""How well one row of a drift log can place a star at best: the air moves it, and that is no fault of the mount."""

from astropy import units as u

from planner.constants import OUTER_SCALE
from planner.exposure.guide_star import GUIDE_BAND
from planner.rig import Site, Telescope
from planner.sky import airmass, seeing
from planner.tracking import image_motion

USUAL_ALTITUDE = 60 * u.deg  # where the log does not say where the star stood


def centroid_noise_of_air(
    telescope: Telescope, site: Site, *, exposure: u.Quantity[u.s]
) -> u.Quantity[u.arcsec]:
    """Return how far the air moves a star from row to row, rms per axis.

    `telescope`: through which the log was taken. `site`: its seeing counts. `exposure`: of one row: the longer, the
    more of the motion is averaged away.
    The least a row can err: photon and read noise of the star come on top.
    """
    width = seeing(site.seeing, airmass=airmass(USUAL_ALTITUDE), wavelength=GUIDE_BAND.centre)
    motion = image_motion(seeing_fwhm=width, wavelength=GUIDE_BAND.centre, aperture=telescope.aperture,
                          outer_scale=OUTER_SCALE)
    return motion.rms(exposure)
