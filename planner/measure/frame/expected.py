"""What the stars of one exposure should look like with this rig: the prediction that a test frame is held against."""

from dataclasses import dataclass

import numpy as np
from astropy import units as u

from planner.exposure.scene import observing_scene
from planner.exposure.star_motion import phase_count, unguided_motion
from planner.measure.stars.star_field import StarField
from planner.rig import Filter, Rig, Site
from planner.tracking import exposure_motion

SHARES = (10, 50, 90)  # percentiles over the drive's phase
# A FWHM this much above or below its prediction is worth a word: nights differ in seeing by as much
# (common practice, no source).
USUAL_SEEING_CHANGE = 0.25


@dataclass(frozen=True, kw_only=True)
class ExpectedStars:
    """Stars at the centre of the field, at one hour angle; over the phase of the drive, 10, 50 and 90 percent."""

    still_fwhm: u.Quantity  # arcsec: no motion
    fwhm: u.Quantity  # arcsec (3,)
    elongation: np.ndarray  # (3,)
    position_angle: u.Quantity  # deg, of the motion at the middle phase
    guided: bool  # then without any motion


@dataclass(frozen=True, kw_only=True)
class Comparison:
    """A frame against its prediction."""

    expected: ExpectedStars
    fwhm: u.Quantity  # measured, arcsec
    elongation: float
    sentences: tuple[str, ...]


def expected_stars(rig: Rig, site: Site, band: Filter, *, declination: u.Quantity, hour_angle: u.Quantity,
                   exposure: u.Quantity, guided: bool = False) -> ExpectedStars:
    """Return what this rig's stars should look like.

    Parameters
    ----------
    rig : Rig
    site : Site
    band : Filter
    declination, hour_angle : Quantity [angle], scalar
        Of the field; at the start of the exposure, west positive.
    exposure : Quantity [s], scalar
        At most 1800 s.
    guided : bool
        A guided frame is held against a star without motion.

    Raises
    ------
    InvalidInputError
        If the field is below the horizon then, or a value breaks its rule.
    """
    hours = u.Quantity([hour_angle]).to(u.hourangle)
    scene = observing_scene(rig, site, band, declination=declination, hour_angle=hours)
    still = scene.response.still.fwhm
    if guided:
        return ExpectedStars(still_fwhm=still, fwhm=u.Quantity([still] * 3), elongation=np.zeros(3),
                             position_angle=0 * u.deg, guided=True)
    motion = unguided_motion(scene)
    moved = exposure_motion(
        motion.track, duration=u.Quantity([exposure]).to(u.s), hour_angle=hours, declination=declination,
        phases=phase_count(len(motion.periods)), periods=motion.periods, amplitudes=motion.amplitudes,
        jitter=motion.jitter, wander=motion.wander, encoder_step=motion.encoder_step)
    effect = scene.response.at(moved.variance_major, moved.variance_minor, moved.excess_kurtosis)
    elongation, angle = np.ravel(effect.elongation), np.ravel(moved.position_angle)
    middle = int(np.argsort(elongation)[elongation.size // 2])
    return ExpectedStars(
        still_fwhm=still, fwhm=np.percentile(effect.fwhm.to_value(u.arcsec), SHARES) * u.arcsec,
        elongation=np.percentile(elongation, SHARES), position_angle=angle[middle], guided=False)


def compare(field: StarField, expected: ExpectedStars, image_scale: u.Quantity) -> Comparison:
    """Return a frame with enough stars against its prediction, in words too."""
    fwhm = (field.fwhm * image_scale).to(u.arcsec)
    return Comparison(expected=expected, fwhm=fwhm, elongation=field.elongation,
                      sentences=(_about_width(fwhm, expected), _about_elongation(field, expected)))


def _about_width(fwhm: u.Quantity, expected: ExpectedStars) -> str:
    middle = expected.fwhm[1]
    change = float(fwhm / middle) - 1
    words = f"FWHM {fwhm.value:.2f}″ measured, {middle.value:.2f}″ predicted"
    if abs(change) <= USUAL_SEEING_CHANGE:
        return f"{words}: as expected for this rig."
    if change > 0:
        return f"{words}: {change:.0%} wider. The seeing was worse than the site's, or the focus is off."
    return f"{words}: {-change:.0%} narrower. The seeing was better than the site's."


def _about_elongation(field: StarField, expected: ExpectedStars) -> str:
    low, _, high = expected.elongation
    words = f"Elongation {field.elongation:.3f} measured, "
    words += "0 predicted while guided" if expected.guided else f"{low:.3f} to {high:.3f} predicted in 8 of 10 frames"
    slack = 2 * field.elongation_error + 0.01
    if field.elongation > high + slack:
        return f"{words}: more than the mount's table says. See what would explain the trail, or record a drift log."
    if field.elongation < low - slack:
        return f"{words}: the mount did better than its table says; a drift log would say by how much."
    return f"{words}: as expected for this rig."
