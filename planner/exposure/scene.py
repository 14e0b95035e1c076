"""The scene: one rig, one filter and one target over its window, reduced to what the other modules of this room need.

The window is a set of hour angles at equal weights. Sky and source rates are means over it, in flux; the star image
is that of the mean airmass factor. Hour angles with the target below the horizon are left out.
"""

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, TypeVar

import numpy as np
from astropy import units as u

from planner.checks import Rule, check
from planner.constants import SIDEREAL_RATE
from planner.errors import InvalidInputError
from planner.exposure.light.noise import PIXEL_RATE, total_read_noise
from planner.exposure.light.photons import SURFACE_BRIGHTNESS, LightPath
from planner.exposure.light.recorded_band import RecordedBand
from planner.optics import MotionResponse, image_scale, motion_response, still_star
from planner.rig import Filter, Rig, Site
from planner.sky import airmass, refraction_from_true, seeing
from planner.sky.altitude import sine_of_altitude
from planner.sky.dispersion import dispersion_covariance

DECLINATION = Rule(unit=u.deg, kind="quantity", at_least=-90, at_most=90, remedy="Give the target's declination.")
HOUR_ANGLE = Rule(unit=u.hourangle, kind="quantity", at_least=-24, at_most=24,
                  remedy="Give the hour angles of the target's window, positive west.")
STILL = np.zeros(2) * u.arcsec / u.h
Values = TypeVar("Values", u.Quantity, np.ndarray)


@dataclass(frozen=True, kw_only=True)
class Scene:
    """What one pixel and one star see while a rig follows a target through its window."""

    rig: Rig
    site: Site
    band: RecordedBand  # of the pixels that collect most of the filter
    declination: u.Quantity[u.deg]
    hour_angle: u.Quantity[u.hourangle]  # (h,), ascending, target above the horizon
    altitude: u.Quantity[u.deg]  # (h,), apparent
    airmass: float  # mean
    seeing_fwhm: u.Quantity[u.arcsec]  # at the filter's wavelength, mean over the window
    image_scale: u.Quantity[u.arcsec / u.pix]  # binned
    response: MotionResponse  # of the star image to motion, on raw frames
    central_pixel_fraction: float  # of a still star's light in one unbinned pixel, centred on it
    signal_rate: u.Quantity[PIXEL_RATE]  # of the source; 0 if none was given
    sky_rate: u.Quantity[PIXEL_RATE]
    dark_rate: u.Quantity[PIXEL_RATE]
    read_noise: u.Quantity[u.electron]
    length: u.Quantity[u.h]  # clock time that the window lasts
    dispersed: u.Quantity[u.arcsec**2]  # (3, h), how far the air draws the star out: ra-ra, dec-dec, ra-dec
    motion: u.Quantity[u.arcsec / u.h]  # (2,), the target's own to the east and north, true on the sky

    @cached_property
    def light(self) -> LightPath:
        """The way of the light to a pixel."""
        return LightPath(self.rig, self.band, self.site)

    def mean_rate(self, source: u.Quantity, *, wavelength: u.Quantity | None = None) -> u.Quantity[PIXEL_RATE]:
        """Return the rate of a surface [mag/arcsec2] or a line, mean over the window; as in `LightPath`."""
        return _mean_rate(self.light, airmass(self.altitude).value, source, wavelength)

    def still_width(self, blur: u.Quantity[u.arcsec] | None = None) -> u.Quantity[u.arcsec]:
        """Return the FWHM of a star without motion, pixel and binning included.

        `blur` [arcsec], scalar: of the optics; that of the mean over the picture if absent.
        """
        telescope = self.rig.telescope
        if blur is None and self.rig.binning == 1:
            return self.response.still.fwhm
        return still_star(
            seeing_fwhm=self.seeing_fwhm, wavelength=self.band.centre, aperture=telescope.aperture,
            obstruction=telescope.obstruction, image_scale=self.image_scale,
            focus_blur_fwhm=telescope.field_blur if blur is None else blur).fwhm

    @cached_property
    def relative_seeing(self) -> np.ndarray:
        """Seeing at the hour angles over its mean over the window, (h,)."""
        width = seeing(self.site.seeing, airmass=airmass(self.altitude), wavelength=self.band.centre)
        return (width / over_window(width)).to_value(u.one)

    @cached_property
    def background_rate(self) -> u.Quantity[PIXEL_RATE]:
        """Everything that makes noise and grows with time: source, sky and dark current."""
        return self.signal_rate + self.sky_rate + self.dark_rate


def observing_scene(rig: Rig, site: Site, band: Filter, *, declination: u.Quantity, hour_angle: u.Quantity,
                    brightness: u.Quantity | None = None, line: u.Quantity | None = None,
                    line_wavelength: u.Quantity | None = None, moon_altitude: u.Quantity | None = None,
                    moon_separation: u.Quantity | None = None, moon_phase_angle: u.Quantity | None = None,
                    sun_altitude: u.Quantity | None = None, length: u.Quantity[u.h] | None = None,
                    motion: u.Quantity[u.arcsec / u.h] = STILL) -> Scene:
    """Return the scene of a target over its window.

    Parameters
    ----------
    declination : Quantity [deg], scalar
    hour_angle : Quantity [angle], shape (h,)
        The target's window, positive west; 8 to 24 values are enough.
    brightness : Quantity [mag / arcsec2], scalar, optional
        Surface brightness of the source at the filter's wavelength.
    line : Quantity [rayleigh] or [erg / (s cm2 arcsec2)], scalar, optional
        Emission line of the source, added to `brightness`.
    line_wavelength : Quantity [nm], scalar, optional
        The filter's centre if absent.
    moon_altitude, moon_separation, moon_phase_angle, sun_altitude : Quantity [deg], scalar or shape (h,), optional
        As in `LightPath.sky`.
    length : Quantity [h], scalar, optional
        Clock time in which the target is observed; from the first to the last hour angle, at the sidereal rate, if
        absent. Give it where the window has gaps.
    motion : Quantity [arcsec/h], shape (2,)
        Of the target itself against the stars, to the east and north, true on the sky.

    Raises
    ------
    InvalidInputError
        If the target is below the horizon at all these hour angles, or a value breaks its rule.
    """
    declination = check("declination", declination, DECLINATION)
    hours = u.Quantity(np.atleast_1d(check("hour_angle", hour_angle, HOUR_ANGLE)))
    altitude = _apparent_altitude(site, declination, hours)
    order = np.argsort(hours.value, kind="stable")
    order = order[altitude.value[order] > 0]
    if order.size == 0:
        raise InvalidInputError("hour_angle", hour_angle, f"must have the target (declination {declination:.1f}) above "
                                "the horizon", "Give the hour angles of the target's window.")
    lights = {"moon_altitude": moon_altitude, "moon_separation": moon_separation, "moon_phase_angle": moon_phase_angle,
              "sun_altitude": sun_altitude}
    lights = {name: _chosen(value, order, hours.size) for name, value in lights.items()}
    air = airmass(altitude[order])
    light = LightPath(rig, band, site)
    recorded = light.recorded
    width = over_window(seeing(site.seeing, airmass=air, wavelength=recorded.centre))
    scale = image_scale(rig.camera.pixel_pitch, rig.telescope.focal_length, binning=rig.binning)
    return Scene(
        rig=rig, site=site, band=recorded, declination=declination,
        hour_angle=hours[order], altitude=altitude[order], airmass=float(over_window(air)), seeing_fwhm=width,
        image_scale=scale, **_star(rig, width, recorded),
        signal_rate=_signal_rate(light, air.value, brightness, line, line_wavelength),
        sky_rate=over_window(light.sky(altitude=altitude[order], **lights)), dark_rate=light.dark,
        read_noise=total_read_noise(rig.camera, binning=rig.binning),
        length=_turned(hours[order]) if length is None else length, motion=motion,
        dispersed=dispersion_covariance(
            hours[order], latitude=site.latitude, declination=declination, centre=recorded.centre, width=recorded.width,
            pressure=site.station_pressure, temperature=site.temperature))


def over_window(values: Values) -> Values:
    """Return the mean of values at evenly spread hour angles, the last axis: what lies at an end counts for half."""
    count = values.shape[-1]
    weights: Any = np.r_[0.5, np.ones(count - 2), 0.5] / (count - 1) if count > 1 else np.ones(1)
    return values @ weights


def _turned(hours: u.Quantity) -> u.Quantity:
    """Return the clock time from the first to the last hour angle."""
    return ((hours[-1] - hours[0]) / SIDEREAL_RATE).to(u.h)


def with_mount(scene: Scene, **changes: Any) -> Scene:
    """Return the same scene on a mount with some fields changed; light and star image stay."""
    return replace(scene, rig=replace(scene.rig, mount=replace(scene.rig.mount, **changes)))


def _chosen(value: u.Quantity | None, order: np.ndarray, count: int) -> u.Quantity | None:
    """Return the values of Moon or Sun at the hour angles that stay; one value holds for all."""
    if value is None or np.size(value) != count or value.isscalar:
        return value
    return value[order]


def _apparent_altitude(site: Site, declination: u.Quantity, hours: u.Quantity) -> u.Quantity:
    """Return the altitude with refraction."""
    sine = sine_of_altitude(site.latitude.to_value(u.rad), declination.to_value(u.rad), hours.to_value(u.rad))
    true = np.arcsin(np.clip(sine, -1, 1)) * u.rad.to(u.deg) * u.deg
    lift = refraction_from_true(np.maximum(true, 0 * u.deg), pressure=site.station_pressure,
                                temperature=site.temperature)
    return true + lift.to(u.deg)


def _star(rig: Rig, width: u.Quantity, band: Filter) -> dict[str, Any]:
    """Return the answer to motion of the star image on the raw frames, and its share in one pixel.

    Pixels are added later, in software: whether a sub is kept does not hang on it.
    """
    telescope, camera = rig.telescope, rig.camera
    response = motion_response(
        seeing_fwhm=width, wavelength=band.centre, aperture=telescope.aperture, obstruction=telescope.obstruction,
        focus_blur_fwhm=telescope.field_blur, image_scale=image_scale(camera.pixel_pitch, telescope.focal_length))
    return {"response": response, "central_pixel_fraction": response.central_pixel_fraction}


def _signal_rate(light: LightPath, air: np.ndarray, brightness: u.Quantity | None, line: u.Quantity | None,
                 line_wavelength: u.Quantity | None) -> u.Quantity:
    rate = 0.0 * PIXEL_RATE
    if brightness is not None:
        rate = rate + _mean_rate(light, air, brightness)
    if line is not None:
        rate = rate + _mean_rate(light, air, line, line_wavelength)
    return rate


def _mean_rate(light: LightPath, air: np.ndarray, source: u.Quantity, wavelength: u.Quantity | None = None
               ) -> u.Quantity:
    """Return the rate of a surface or a line, mean over the window."""
    if source.unit.is_equivalent(SURFACE_BRIGHTNESS):
        return over_window(light.surface(source, airmass=air))
    return over_window(light.line(source, wavelength=wavelength, airmass=air))
