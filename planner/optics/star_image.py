"""The star as this camera records it: one product of transfer functions, and what can be read from it.

Air (Kolmogorov, long exposure) × annular aperture × focus blur × pixel box × motion. Widths do not add in quadrature
here, and a trail widens the *minor* axis too. Pixels are aligned with east and north; position angles run from north
through east. Conversions between full widths at half maximum and standard deviations live in this module alone.
"""

import math
from dataclasses import dataclass

import numpy as np
from astropy import units as u

from planner.checks import Rule, check, require_not_negative, require_positive
from planner.constants import FWHM_PER_SIGMA, KOLMOGOROV_FWHM
from planner.errors import InvalidInputError
from planner.optics.diffraction import OBSTRUCTION, cutoff_kernel
from planner.optics.fourier import FourierImage, half_maximum_width, matched_moments, sampled
from planner.optics.image_scale import ARCSEC_PER_RADIAN, SCALE
from planner.optics.transfer import Transfer

_ANGLE = Rule(unit=u.deg, kind="quantity", remedy="Count it from north through east.")


def sigma_from_fwhm(fwhm: u.Quantity) -> u.Quantity:
    r"""Return the standard deviation of a Gaussian: :math:`\mathrm{FWHM}/(2\sqrt{2\ln 2})`; any unit, any shape."""
    return fwhm / FWHM_PER_SIGMA


@dataclass(frozen=True)
class StarImage:
    """What a long exposure makes of one star, the pixel's own blur included."""

    fwhm_major: u.Quantity[u.arcsec]  # half maximum, along the long axis of the moments
    fwhm_minor: u.Quantity[u.arcsec]  # half maximum, across it
    elongation: float  # 1 - minor/major of the adaptive moments
    position_angle: u.Quantity[u.deg]  # of the long axis, north through east, 0 to 180; 0 for a round star
    noise_equivalent_area: u.Quantity[u.arcsec**2]  # 1 / integral of the squared profile
    central_pixel_fraction: float  # brightest point on the pixel's centre
    _transfer: Transfer

    @property
    def fwhm(self) -> u.Quantity[u.arcsec]:
        """Geometric mean of the two half-maximum widths."""
        return np.sqrt(self.fwhm_major * self.fwhm_minor)

    def render(self, shape: tuple[int, int], oversampling: int = 1) -> np.ndarray:
        """Return the share of the star's light in each pixel, as the camera records it.

        `shape`: rows and columns of the answer. `oversampling`: samples per pixel and side. Each still integrates over
        a whole pixel of the camera, and holds the share of light divided by the samples per pixel.
        Returns (rows, columns): rows run from south to north, columns from west to east; the star's mean place is the
        middle of the array. The sum over a wide array is 1.
        Raises InvalidInputError if the shape or the oversampling is not made of whole numbers from 1.
        """
        whole = Rule(kind="whole", at_least=1, at_most=4096, remedy="Give rows, columns and samples per pixel.")
        rows, columns = (check("shape", size, whole) for size in shape)
        step = self._transfer.pixel_arcsec / check("oversampling", oversampling, whole)
        image = sampled(self._transfer, angle=0.0, least_period=1.5 * step * max(rows, columns))
        north = (np.arange(rows) - (rows - 1) / 2) * step
        east = (np.arange(columns) - (columns - 1) / 2) * step
        along = np.exp(2j * np.pi * np.outer(north, image.u))
        across = np.exp(2j * np.pi * np.outer(image.v, east))
        return np.maximum((along @ image.weighted @ across).real, 0) * step**2


def star_image(
    *, seeing_fwhm: u.Quantity[u.arcsec], wavelength: u.Quantity[u.nm], aperture: u.Quantity[u.mm],
    obstruction: float = 0.0, image_scale: u.Quantity[u.arcsec / u.pix],
    focus_blur_fwhm: u.Quantity[u.arcsec] = 0 * u.arcsec, outer_scale: u.Quantity[u.m] | None = None,
    trail: u.Quantity[u.arcsec] = 0 * u.arcsec, trail_position_angle: u.Quantity[u.deg] = 0 * u.deg,
    jitter_rms: u.Quantity[u.arcsec] = 0 * u.arcsec, track: u.Quantity[u.arcsec] | None = None,
) -> StarImage:
    r"""Return the image of a star through air, aperture, focus and pixel while it wanders.

    .. math:: T(f) = e^{-3.44\,(f\lambda/r_0)^{5/3}}\; T_{annulus}(f)\; e^{-2\pi^2\sigma_b^2 f^2}\;
              \mathrm{sinc}(p f_e)\,\mathrm{sinc}(p f_n)\; \mathrm{sinc}(L f_{\parallel})\; e^{-2\pi^2\sigma_j^2 f^2}\;
              \langle e^{-2\pi i f \cdot x} \rangle

    Parameters
    ----------
    seeing_fwhm : Quantity [arcsec], scalar
        Kolmogorov width :math:`0.976\,\lambda/r_0` at this wavelength and airmass, before the outer scale acts.
    aperture : Quantity [mm], scalar
        Clear diameter.
    obstruction : float
        Share of the diameter, from 0 to below 1.
    image_scale : Quantity [arcsec/pix], scalar
        Side of one (binned) pixel on the sky.
    focus_blur_fwhm : Quantity [arcsec], scalar
        Aberrations and focus error together, drawn as a Gaussian of this width.
    outer_scale : Quantity [m], scalar, or None
        Of the turbulence; None is infinite. The air's exponent is then half of von Karman's structure function [T02]_.
    trail : Quantity [arcsec], scalar
        Length of a uniform straight trail.
    trail_position_angle : Quantity [deg], scalar
        From north through east; also where `position_angle` starts to look.
    jitter_rms : Quantity [arcsec], scalar
        Gaussian wander, the same on each axis, rms per axis.
    track : Quantity [arcsec] (n, 2), or None
        Places (east, north) at equal times. Their mean is moved to the middle; they multiply with trail and jitter.

    Returns
    -------
    StarImage
        Against an independent image simulator: 1 % in width, 0.01 in elongation, for trails to 2 FWHM.

    Raises
    ------
    InvalidInputError
        If a value has a wrong unit or is out of range.

    References
    ----------
    .. [F66] D. L. Fried, J. Opt. Soc. Am. 56, 1372 (1966), doi:10.1364/JOSA.56.001372.
    .. [T02] A. Tokovinin, PASP 114, 1156 (2002), doi:10.1086/342683, eq. 5.
    """
    transfer = star_transfer(seeing_fwhm, wavelength, aperture, obstruction, image_scale, focus_blur_fwhm, outer_scale,
                         trail, trail_position_angle, jitter_rms, track)
    image = sampled(transfer, angle=transfer.motion_angle)
    return _measured(transfer, image)


def star_transfer(
    seeing_fwhm: u.Quantity, wavelength: u.Quantity, aperture: u.Quantity, obstruction: float,
    image_scale: u.Quantity, focus_blur_fwhm: u.Quantity, outer_scale: u.Quantity | None,
    trail: u.Quantity = 0 * u.arcsec, trail_position_angle: u.Quantity = 0 * u.deg,
    jitter_rms: u.Quantity = 0 * u.arcsec, track: u.Quantity | None = None,
) -> Transfer:
    """Check the values of `star_image` and strip their units."""
    seeing = require_positive("seeing_fwhm", seeing_fwhm, u.arcsec, "Give the full width at half maximum.")
    scale = require_positive("image_scale", image_scale, SCALE, "Give the sky that one pixel sees.")
    blur = require_not_negative("focus_blur_fwhm", focus_blur_fwhm, u.arcsec, "Give a full width at half maximum.")
    length = require_not_negative("trail", trail, u.arcsec, "Give the length of the trail.")
    jitter = require_not_negative("jitter_rms", jitter_rms, u.arcsec, "Give the rms per axis.")
    angle = check("trail_position_angle", trail_position_angle, _ANGLE)
    places = None if track is None else _checked_track(track)
    motion_angle = float(angle.to_value(u.rad)) if places is None or length.value > 0 else _long_axis(places)
    return Transfer(
        seeing_arcsec=float(seeing.value),
        r0_over_outer_scale=_r0_over(outer_scale, seeing, wavelength),
        cutoff_per_arcsec=cutoff_kernel(wavelength, aperture),
        obstruction=check("obstruction", obstruction, OBSTRUCTION),
        pixel_arcsec=float(scale.value),
        blur_sigma_arcsec=float(blur.value) / FWHM_PER_SIGMA,
        jitter_arcsec=float(jitter.value),
        trail_arcsec=float(length.value),
        motion_angle=motion_angle,
        track=places,
    )


def _checked_track(track: u.Quantity) -> np.ndarray:
    """Return the places in arcsec (n, 2) with their mean at the origin."""
    places = check("track", track, Rule(unit=u.arcsec, kind="quantity", remedy="Give places in arcsec.")).value
    if places.ndim != 2 or places.shape[1] != 2 or len(places) == 0:
        raise InvalidInputError("track", f"shape {places.shape}", "must have shape (n, 2)", "Give (east, north) rows.")
    return places - places.mean(axis=0)


def _long_axis(places: np.ndarray) -> float:
    """Return the position angle [rad] along which the places scatter most."""
    east, north = places.T
    return math.atan2(2 * np.mean(east * north), np.mean(north**2) - np.mean(east**2)) / 2


def _r0_over(outer_scale: u.Quantity | None, seeing: u.Quantity, wavelength: u.Quantity) -> float:
    """Return r0 over the outer scale: 0 when that is infinite."""
    if outer_scale is None:
        return 0.0
    scale = require_positive("outer_scale", outer_scale, u.m, "Give it in metres, or leave it out.")
    wave = require_positive("wavelength", wavelength, u.m, "Give the wavelength of the light, e.g. 550 nm.")
    r0 = KOLMOGOROV_FWHM * float(wave.value) / float(seeing.value) * ARCSEC_PER_RADIAN
    return r0 / float(scale.value)


def _measured(transfer: Transfer, image: FourierImage) -> StarImage:
    """Read everything from the transfer function."""
    moments = matched_moments(image, first_guess(transfer))
    larger, smaller, turn = moments.principal
    elongation = 1 - math.sqrt(smaller / larger)
    if elongation < 1e-6:  # no direction: along a side of the pixel where there is no motion
        elongation, turn = max(elongation, 0.0), 0.0
    major, peak, place = half_maximum_width(image, moments.centre, turn, math.sqrt(larger))
    top = (moments.centre[0] + place * math.cos(turn), moments.centre[1] + place * math.sin(turn))
    minor, _, _ = half_maximum_width(image, top, turn + math.pi / 2, math.sqrt(smaller))
    angle = math.degrees(image.angle + turn) % 180 if elongation > 1e-6 else 0.0
    return StarImage(
        fwhm_major=major * u.arcsec, fwhm_minor=minor * u.arcsec, elongation=elongation,
        position_angle=angle * u.deg, noise_equivalent_area=1 / image.power() * u.arcsec**2,
        central_pixel_fraction=min(peak * transfer.pixel_arcsec**2, 1.0), _transfer=transfer)


def first_guess(transfer: Transfer) -> tuple[float, float, float]:
    """Return moments (uu, uv, vv) [arcsec2] to start from: all variances added, the wings left out."""
    core = math.hypot(transfer.seeing_arcsec, 1.03 / transfer.cutoff_per_arcsec) / FWHM_PER_SIGMA
    still = core**2 + transfer.blur_sigma_arcsec**2 + transfer.jitter_arcsec**2 + transfer.pixel_arcsec**2 / 12
    along, across = still + transfer.trail_arcsec**2 / 12, still
    if transfer.track is not None:
        sine, cosine = math.sin(transfer.motion_angle), math.cos(transfer.motion_angle)
        along += float(np.var(transfer.track @ (sine, cosine)))
        across += float(np.var(transfer.track @ (cosine, -sine)))
    return along, 0.0, across
