"""What the stars of one exposure should look like with this rig: the prediction that a test frame is held against."""

from dataclasses import dataclass
from typing import Annotated

import numpy as np
from astropy import units as u

from planner.exposure.scene import Scene, observing_scene
from planner.exposure.share_grid import phase_count, seeing_part
from planner.exposure.star_motion import unguided_motion
from planner.fields import Key, Many, Spread, told
from planner.measure.stars.star_field import StarField
from planner.rig import Filter, Rig, Site
from planner.tracking import exposure_motion

SHARES = (10, 50, 90)  # percentiles over the drive's phase
OPTICS = 0.01  # elongation that optics add or take (common practice, no source)
NINE_OF_TEN = 1.2816  # sigmas that one value in ten is beyond, each way


@dataclass(frozen=True, kw_only=True)
class ExpectedStars:
    """Stars at the centre of the field, at one hour angle; over the phase of the drive, 10, 50 and 90 percent."""

    still_fwhm: u.Quantity  # arcsec (3,): no motion, over the site's nights
    fwhm: u.Quantity  # arcsec (3,), over its nights too
    elongation: np.ndarray  # (3,)
    position_angle: Annotated[u.Quantity[u.deg], "of the motion"]
    guided: Annotated[bool, "then without any motion"]
    middle = told(u.arcsec, "in the middle of the site's nights", lambda stars: stars.fwhm[1], key="fwhm_arcsec")
    range = told(u.arcsec, "10 and 90 % of it", lambda stars: stars.fwhm[[0, 2]], Many(),
                 key="fwhm_arcsec_10_90_percent")
    still_middle = told(u.arcsec, "without motion", lambda stars: stars.still_fwhm[1], key="still_fwhm_arcsec")
    still_range = told(u.arcsec, "10 and 90 % of it", lambda stars: stars.still_fwhm[[0, 2]], Many(),
                       key="still_fwhm_arcsec_10_90_percent")
    stretch = told(float, "over the phase of the drive", lambda stars: float(stars.elongation[1]), key="elongation")
    stretch_range = told(np.ndarray, "10 and 90 % of it", lambda stars: stars.elongation[[0, 2]],
                         key="elongation_10_90_percent")


@dataclass(frozen=True, kw_only=True)
class Comparison:
    """A frame against its prediction."""

    expected: Annotated[ExpectedStars, Spread()]
    fwhm: u.Quantity  # measured, arcsec
    still_fwhm: u.Quantity  # of the same stars without their trail, arcsec
    elongation: float
    sentences: Annotated[tuple[str, ...], "the frame against this, in words", Key("answer")]

    @property
    def wider(self) -> bool:
        """Whether its stars are wider without their trail than in 9 of 10 nights."""
        return bool(self.still_fwhm > self.expected.still_fwhm[2])


def expected_stars(rig: Rig, site: Site, band: Filter, *, declination: u.Quantity, hour_angle: u.Quantity,
                   exposure: u.Quantity, guided: bool = False) -> ExpectedStars:
    """Return what this rig's stars should look like.

    `declination` and `hour_angle` [angle]: of the field; at the start of the exposure, west positive. `exposure` [s]:
    at most 1800 s. `guided`: a guided frame is held against a star without motion.
    Raises InvalidInputError if the field is below the horizon then, or a value breaks its rule.
    """
    hours, scene = _scene(rig, site, band, declination, hour_angle)
    spread = seeing_part(scene) * site.seeing_spread  # of the logarithm of a width, over the site's nights
    still = _over_nights(u.Quantity([scene.response.still.fwhm] * 3), spread)
    if guided:
        return ExpectedStars(still_fwhm=still, fwhm=still, elongation=np.zeros(3), position_angle=0 * u.deg,
                             guided=True)
    motion = unguided_motion(scene)
    moved = exposure_motion(
        motion.track, duration=u.Quantity([exposure]).to(u.s), hour_angle=hours, declination=declination,
        phases=phase_count(len(motion.periods)), periods=motion.periods, amplitudes=motion.amplitudes,
        jitter=motion.jitter, wander=motion.wander, encoder_step=motion.encoder_step)
    effect = scene.response.at(moved.variance_major, moved.variance_minor, moved.excess_kurtosis)
    elongation, angle = np.ravel(effect.elongation), np.ravel(moved.position_angle)
    middle = int(np.argsort(elongation)[elongation.size // 2])
    return ExpectedStars(
        still_fwhm=still, fwhm=_over_nights(np.percentile(effect.fwhm.to_value(u.arcsec), SHARES) * u.arcsec, spread),
        elongation=np.percentile(elongation, SHARES), position_angle=angle[middle], guided=False)


def still_width(rig: Rig, site: Site, band: Filter, *, declination: u.Quantity, hour_angle: u.Quantity) -> u.Quantity:
    """Return the FWHM [arcsec] of stars without motion in the site's seeing; parameters of `expected_stars`."""
    return _scene(rig, site, band, declination, hour_angle)[1].response.still.fwhm


def _scene(rig: Rig, site: Site, band: Filter, declination: u.Quantity, hour_angle: u.Quantity
           ) -> tuple[u.Quantity, Scene]:
    hours = u.Quantity([hour_angle]).to(u.hourangle)
    return hours, observing_scene(rig, site, band, declination=declination, hour_angle=hours)


def _over_nights(fwhm: u.Quantity, spread: float) -> u.Quantity:
    """Return 10, 50 and 90 percent of a FWHM with the seeing of the site's nights beside the drive's phase."""
    away = np.log((fwhm / fwhm[1]).to_value(u.one))
    return fwhm[1] * np.exp(np.array([-1, 0, 1]) * np.hypot(away, NINE_OF_TEN * spread))


def compare(field: StarField, expected: ExpectedStars, image_scale: u.Quantity) -> Comparison:
    """Return a frame with enough stars against its prediction, in words too."""
    fwhm = (field.fwhm * image_scale).to(u.arcsec)
    trailed = field.trail is not None and field.trail.significant
    still = (field.trail.still_fwhm * image_scale).to(u.arcsec) if field.trail is not None and trailed else fwhm
    return Comparison(expected=expected, fwhm=fwhm, still_fwhm=still, elongation=field.elongation,
                      sentences=(_about_width(still, expected), _about_elongation(field, expected)))


def _about_width(still: u.Quantity, expected: ExpectedStars) -> str:
    """Return still stars against still stars: what a trail adds is the mount's, not the air's."""
    low, _, high = expected.still_fwhm.to_value(u.arcsec)
    words = f"FWHM without motion {still.value:.2f}″ measured, {low:.2f} to {high:.2f}″ predicted in 8 of 10 nights"
    if still.value > high:
        return f"{words}: wider. The seeing was worse than the site's, or the focus is off."
    if still.value < low:
        return f"{words}: narrower. The seeing was better than the site's."
    return f"{words}: as expected for this rig."


def _about_elongation(field: StarField, expected: ExpectedStars) -> str:
    low, _, high = expected.elongation
    slack = 2 * field.elongation_error + OPTICS
    told = "0 predicted while guided" if expected.guided else f"{low:.3f} to {high:.3f} predicted in 8 of 10 frames"
    words = f"Elongation {field.elongation:.3f} measured, {told}, ± {slack:.3f} for measurement and optics"
    if field.elongation > high + slack:
        return f"{words}: more than the mount's table says. See what would explain the trail, or record a drift log."
    if field.elongation < low - slack:
        return f"{words}: the mount did better than its table says; a drift log would say by how much."
    return f"{words}: as expected for this rig."
