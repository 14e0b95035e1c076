"""What to do about a polar axis that is off, and what it costs if nothing is done."""

from dataclasses import dataclass

import numpy as np
from astropy import units as u

from planner.checks import require_positive
from planner.constants import FWHM_PER_SIGMA, SIDEREAL_RATE
from planner.measure.polar.alignment import PolarAlignment
from planner.optics import image_scale
from planner.rig import Rig, Site
from planner.tracking import guided_track, smooth_track

# Hour angles at which a target is tried, as far as it is tracked in practice.
FARTHEST = 80.0
HOUR_ANGLES = 33
FEWEST_NODES = 17
# Stars count as round to the eye at this ratio of minor to major axis (common practice, no source).
ROUND = 0.90
NO_AIR = 0 * u.hPa


@dataclass(frozen=True, kw_only=True)
class Adjuster:
    """One adjusting screw of the wedge or base."""

    thread_pitch: u.Quantity  # mm the screw advances per turn
    lever_arm: u.Quantity  # mm from the pivot to where the screw pushes

    def __post_init__(self) -> None:
        require_positive("thread_pitch", self.thread_pitch, u.mm, "Give the advance per turn, e.g. 1.5 mm for M10.")
        require_positive("lever_arm", self.lever_arm, u.mm, "Measure from the pivot to where the screw pushes.")


def adjuster_turns(error: u.Quantity, adjuster: Adjuster) -> u.Quantity:
    """Return the turns of a screw that take away an error of the axis.

    Parameters
    ----------
    error : Quantity [angle], any shape
        Altitude or azimuth error of the axis.
    adjuster : Adjuster
        The screw pushes at right angles to its lever.

    Returns
    -------
    Quantity [dimensionless], same shape
        Turns; the sign says the sense of the correction: positive raises the axis, or swings it to the east.
    """
    return (-np.tan(error) * adjuster.lever_arm / adjuster.thread_pitch).to(u.one)


def instructions(alignment: PolarAlignment) -> tuple[str, str]:
    """Return what to do with the axis, in words: for altitude and for azimuth."""
    altitude, azimuth = alignment.altitude_error, alignment.azimuth_error
    up = "lower" if altitude > 0 else "raise"
    side = "west" if azimuth > 0 else "east"
    return (f"The axis points {_size(altitude)} too {'high' if altitude > 0 else 'low'}: {up} it.",
            f"The axis points {_size(azimuth)} {'east' if azimuth > 0 else 'west'} of the pole: swing it {side}.")


def _size(angle: u.Quantity) -> str:
    return f"{abs(angle.to_value(u.arcmin)):.1f}′"


@dataclass(frozen=True, kw_only=True)
class PolarEffect:
    """What the axis does to one sub-exposure at its worst hour angle within 80 deg of the meridian."""

    sub_exposure: u.Quantity
    trail: u.Quantity  # arcsec, unguided drift over the sub
    dec_rate: u.Quantity  # arcsec/min, largest
    rotation: u.Quantity  # arcmin, unguided turn of the field over the sub
    guided_rotation: u.Quantity  # arcmin, while a guide star in the middle is held
    guided_trail: u.Quantity  # arcsec, of a star in the corner then
    allowed: u.Quantity  # arcsec, trail that keeps stars round
    matters: bool
    matters_guided: bool
    longest: u.Quantity  # s, unguided sub that the axis alone allows
    longest_guided: u.Quantity


def allowed_trail(star_fwhm: u.Quantity, *, ratio: float = ROUND) -> u.Quantity:
    r"""Return the uniform trail that still gives stars of an axis ratio.

    .. math:: L = \sigma \sqrt{12\,(q^{-2} - 1)}

    Parameters
    ----------
    star_fwhm : Quantity [angle], any shape
        Of an untrailed Gaussian star, :math:`\sigma` its standard deviation.
    ratio : float
        Minor over major axis :math:`q` of the second moments.

    Returns
    -------
    Quantity [arcsec], same shape
        0.71 FWHM at 0.90: the variance of a uniform line, L²/12, along one axis.
    """
    return (star_fwhm / FWHM_PER_SIGMA * np.sqrt(12 * (1 / ratio**2 - 1))).to(u.arcsec)


def polar_effect(
    alignment: PolarAlignment, *, sub_exposure: u.Quantity, star_fwhm: u.Quantity, field_radius: u.Quantity,
    declination: u.Quantity = 0 * u.deg,
) -> PolarEffect:
    """Return drift and field rotation that a polar error leaves in one sub-exposure, the drive being perfect.

    Parameters
    ----------
    alignment : PolarAlignment
        The axis.
    sub_exposure : Quantity [time], scalar
        Length of one sub.
    star_fwhm : Quantity [angle], scalar
        Of the stars in a still frame.
    field_radius : Quantity [angle], scalar
        From the middle to a corner of the sensor.
    declination : Quantity [angle], scalar
        Of the target.

    Returns
    -------
    PolarEffect
        Worst case over hour angles, without refraction; the allowed lengths scale with the drift.
    """
    require_positive("sub_exposure", sub_exposure, u.s, "Give the length of one sub, e.g. 120 s.")
    turned = (SIDEREAL_RATE * sub_exposure).to_value(u.deg)
    starts = np.linspace(-FARTHEST, FARTHEST, HOUR_ANGLES)
    nodes = np.linspace(starts[0], starts[-1] + turned, max(FEWEST_NODES, 4 * HOUR_ANGLES)) * u.deg
    sky = {"latitude": alignment.latitude, "declination": declination, "hour_angle": nodes, "pressure": NO_AIR,
           "polar_altitude_error": alignment.altitude_error, "polar_azimuth_error": alignment.azimuth_error}
    free = smooth_track(**sky)
    held = guided_track(guide_star_offset=[0, 0] * u.deg, **sky)

    def change(values: u.Quantity, unit: u.Unit) -> np.ndarray:
        curve = values.to_value(unit)
        return np.interp(starts + turned, nodes.value, curve) - np.interp(starts, nodes.value, curve)

    east, north = change(free.ra, u.arcsec), change(free.dec, u.arcsec)
    rotation, guided = (np.max(np.abs(change(track.rotation, u.arcmin))) for track in (free, held))
    return _effect(np.max(np.hypot(east, north)), np.max(np.abs(north)), rotation, guided, sub_exposure.to(u.s),
                   allowed_trail(star_fwhm), field_radius)


def _effect(
    trail_arcsec: float, north_arcsec: float, rotation_arcmin: float, guided_arcmin: float, sub: u.Quantity,
    allowed: u.Quantity, field_radius: u.Quantity,
) -> PolarEffect:
    trail = trail_arcsec * u.arcsec
    corner = (guided_arcmin * u.arcmin).to_value(u.rad) * field_radius.to(u.arcsec)
    return PolarEffect(
        sub_exposure=sub, trail=trail, dec_rate=(north_arcsec * u.arcsec / sub).to(u.arcsec / u.min),
        rotation=rotation_arcmin * u.arcmin, guided_rotation=guided_arcmin * u.arcmin, guided_trail=corner,
        allowed=allowed, matters=bool(trail > allowed), matters_guided=bool(corner > allowed),
        longest=_longest(sub, trail, allowed), longest_guided=_longest(sub, corner, allowed),
    )


def _longest(sub: u.Quantity, trail: u.Quantity, allowed: u.Quantity) -> u.Quantity:
    """Return the sub at which the trail reaches the allowed one; infinite without a trail."""
    return sub * float(allowed / trail) if trail > 0 * u.arcsec else np.inf * u.s


def rig_effect(
    alignment: PolarAlignment, rig: Rig, site: Site, *, sub_exposure: u.Quantity, declination: u.Quantity = 0 * u.deg,
) -> PolarEffect:
    """Return `polar_effect` for a rig: its corner, and its stars in the site's usual seeing at the zenith."""
    camera, telescope = rig.camera, rig.telescope
    scale = image_scale(camera.pixel_pitch, telescope.focal_length)
    half = np.hypot(camera.columns, camera.rows) / 2 * u.pix
    return polar_effect(alignment, sub_exposure=sub_exposure, star_fwhm=np.hypot(site.seeing, telescope.optical_blur),
                        field_radius=(half * scale).to(u.deg), declination=declination)
