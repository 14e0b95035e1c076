"""Photons: what a star, a glow or an emission line brings to one pixel, in electrons per second.

Magnitudes are Vega magnitudes at the wavelength of the filter: a source of magnitude m has Vega's spectrum, scaled.
The zero point and the air's transmission are averaged over the box that a pixel records (`recorded_band`). Rates are
those of one pixel of the colour that collects most of the filter's light.
"""

from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any

import numpy as np
from astropy import constants
from astropy import units as u

from planner.checks import check_units
from planner.errors import InvalidInputError
from planner.exposure.light.noise import PIXEL_RATE, dark_rate
from planner.exposure.light.recorded_band import RecordedBand, recorded_band, response
from planner.optics.filter_cone import cone_share
from planner.rig import Filter, Rig, Site
from planner.sky import airmass as airmass_at
from planner.sky import extinction, sky_brightness

# Photons per second, cm2 and angstrom from a star of magnitude 0 in U, B, V, R, I, and the wavelength [nm] of each.
# Source: Bessell, Castelli & Plez (1998), A&A 333, 231, table A2. The printed photon column of U belongs to 360 nm,
# although the effective wavelength printed above it is 366 nm.
BAND_WAVELENGTH_NM = np.array([360.0, 438.0, 545.0, 641.0, 798.0])
BAND_PHOTONS = np.array([756.1, 1392.6, 995.5, 702.0, 452.0])

# Gauss-Legendre rules over a filter's box, as shares of its half width.
FINE_BOX = np.polynomial.legendre.leggauss(7)
SKY_BOX = np.polynomial.legendre.leggauss(3)
Array = float | np.ndarray
SQUARE, RATE = u.arcsec**2, u.electron / u.s  # made once: a compound unit takes 20 µs
SURFACE_BRIGHTNESS = u.mag / SQUARE
SURFACE_PHOTONS = u.photon / (u.s * u.m**2 * SQUARE)
SURFACE_ENERGY = u.erg / (u.s * u.cm**2 * SQUARE)


def _photon_zero_point(wavelength_nm: np.ndarray) -> np.ndarray:
    """Compute the photon flux of magnitude 0 outside the atmosphere [photon / (s cm2 angstrom)], on plain floats.

    Between U, B, V, R and I a monotone cubic [FC80]_ runs through the logarithms of [BCP98]_ against the logarithm of
    the wavelength; beyond I it goes on straight, below U it stays. 995.5 in V.

    References
    ----------
    .. [BCP98] Bessell, Castelli & Plez, A&A 333, 231 (1998), table A2.
    .. [FC80] Fritsch & Carlson, SIAM J. Numer. Anal. 17, 238 (1980), doi:10.1137/0717021; slopes of Fritsch & Butland.
    """
    x, y = np.log(BAND_WAVELENGTH_NM), np.log(BAND_PHOTONS)
    at = np.maximum(np.log(wavelength_nm), x[0])
    cell = np.clip(np.searchsorted(x, at, side="right") - 1, 0, len(x) - 2)
    step = x[cell + 1] - x[cell]
    s = np.minimum((at - x[cell]) / step, 1.0)
    low, high = _BAND_SLOPES[cell] * step, _BAND_SLOPES[cell + 1] * step
    rise = y[cell + 1] - y[cell]
    inside = y[cell] + s * (low + s * (3 * rise - 2 * low - high + s * (low + high - 2 * rise)))
    return np.exp(inside + _BAND_SLOPES[-1] * np.maximum(at - x[-1], 0.0))


def _flux_of_zero(wavelength_nm: np.ndarray) -> np.ndarray:
    """Return the photons of magnitude 0 per s, m2 and nm: 1e4 cm2 per m2, 10 angstrom per nm."""
    return 1e5 * _photon_zero_point(wavelength_nm)


def _monotone_slopes(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Return slopes at the nodes of a cubic that never overshoots (Fritsch & Butland's weighted harmonic mean).

    By hand, because scipy.interpolate adds 0.3 s to the start of a command that takes 1 s; a test holds it to scipy's.
    """
    step = np.diff(x)
    rise = np.diff(y) / step
    slopes = np.zeros_like(y)
    first, second = 2 * step[1:] + step[:-1], step[1:] + 2 * step[:-1]
    same = rise[1:] * rise[:-1] > 0
    slopes[1:-1][same] = ((first + second) / (first / rise[:-1] + second / rise[1:]))[same]
    slopes[0], slopes[-1] = rise[0], rise[-1]
    return slopes


_BAND_SLOPES = _monotone_slopes(np.log(BAND_WAVELENGTH_NM), np.log(BAND_PHOTONS))


@dataclass(frozen=True)
class LightPath:
    """The way of light from outside the air to a pixel: a rig, one of its filters and a site.

    Surfaces and lines are counted outside the atmosphere; with an airmass of 0, as seen from the ground. Rates per
    pixel are those of a binned pixel of the recorded colour.
    """

    rig: Rig
    band: Filter
    site: Site

    @cached_property
    def recorded(self) -> RecordedBand:
        """What of the filter the pixels record."""
        return recorded_band(self.rig.camera, self.band)

    @cached_property
    def pixel_area(self) -> u.Quantity[u.arcsec**2 / u.pix]:
        """The sky that one pixel covers."""
        pitch = self.rig.camera.pixel_pitch.to_value(u.mm) * self.rig.binning
        side = pitch / self.rig.telescope.focal_length.to_value(u.mm)
        return (side * u.rad.to(u.arcsec)) ** 2 * SQUARE / u.pix

    def pixels(self, area: u.Quantity[u.arcsec**2]) -> float:
        """Return the pixels that record an area: on a colour sensor only those of the filter's colour."""
        return float(area.to_value(SQUARE) / self.pixel_area.value) * self.recorded.share

    @check_units
    def star(self, magnitude: u.Quantity[u.mag], *, airmass: Array = 0.0) -> u.Quantity[u.electron / u.s]:
        """Return the electrons per second that all of a star's light makes, as if all pixels were of that colour.

        Parameters
        ----------
        magnitude : Quantity [mag], any shape
            Vega magnitude outside the atmosphere.
        airmass : float, broadcast against `magnitude`
            0: no atmosphere.

        Returns
        -------
        Quantity [electron / s], shape of the broadcast

        Notes
        -----
        Rate = zero point over the box × area − obstruction × transmissions × quantum efficiency × 10^(−0.4 m).
        """
        return self._of_zero(airmass) * 10 ** (-0.4 * magnitude.to_value(u.mag)) * RATE

    @check_units
    def surface(self, brightness: u.Quantity[u.mag / u.arcsec**2], *, airmass: Array = 0.0) -> u.Quantity[PIXEL_RATE]:
        """Return the electrons per second and pixel from a surface of a given brightness.

        `brightness` (any shape): Vega magnitude per square arcsecond. `airmass` as in `star`.
        """
        per_arcsec2 = self._of_zero(airmass) * 10 ** (-0.4 * brightness.to_value(SURFACE_BRIGHTNESS))
        return per_arcsec2 * self.pixel_area.value * PIXEL_RATE

    def line(self, intensity: u.Quantity, *, wavelength: u.Quantity | None = None, airmass: Array = 0.0) -> u.Quantity:
        """Return the electrons per second and pixel from one emission line.

        Parameters
        ----------
        intensity : Quantity [rayleigh] or [erg / (s cm2 arcsec2)], any shape
            1 rayleigh = 10^10 / 4π photon / (s m2 sr).
        wavelength : Quantity [nm], optional
            Of the line; if absent the middle of what is recorded, or of the filter's widest window where that is none.
        airmass : float, broadcast
            As in `star`.

        Returns
        -------
        Quantity [electron / (s pix)], shape of the broadcast
            0 where the line falls outside the filter. Less by what a fast cone loses in the filter (`cone_share`).

        Raises
        ------
        InvalidInputError
            If the intensity is neither in photons nor in energy per area, time and solid angle.
        """
        telescope, recorded = self.rig.telescope, self.recorded
        line = recorded.origin.line_near(recorded.centre) if wavelength is None else wavelength
        line_nm = float(line.to_value(u.nm))
        passed = float(response(self.rig.camera, recorded.origin, recorded.colour, np.array(line_nm)))
        photons = _line_photons(intensity, line_nm) * telescope.collecting_area.to_value(u.m**2)
        air = _air_transmission(_per_airmass(np.array([line_nm]), above_sea_level(self.site.height)), airmass)[..., 0]
        if not recorded.origin.curve:
            passed *= cone_share(recorded.origin.centre, recorded.origin.width, focal_ratio=telescope.focal_ratio,
                                 obstruction=telescope.obstruction)
        return photons * air * self._efficiency * passed * self.pixel_area.value * PIXEL_RATE

    @check_units
    def sky(self, *, altitude: u.Quantity[u.deg], moon_altitude: u.Quantity[u.deg] | None = None,
            moon_separation: u.Quantity[u.deg] | None = None, moon_phase_angle: u.Quantity[u.deg] | None = None,
            sun_altitude: u.Quantity[u.deg] | None = None) -> u.Quantity[PIXEL_RATE]:
        """Return the sky's electrons per second and pixel in a direction at a time.

        Parameters
        ----------
        altitude : Quantity [deg], any shape
            Apparent altitude of the field.
        moon_altitude, moon_separation, moon_phase_angle : Quantity [deg], broadcast, optional
            The Moon's altitude, its distance from the field, and its phase angle (0 at full Moon): all three, or no
            Moon.
        sun_altitude : Quantity [deg], broadcast, optional
            For twilight.

        Returns
        -------
        Quantity [electron / (s pix)], shape of the broadcast
        """
        photons: Array = 0.0
        box = (self.recorded.centre.to_value(u.nm), self.recorded.width.to_value(u.nm))
        for node_nm, weight_nm in zip(*_box_nodes(*box, SKY_BOX), strict=True):
            brightness = sky_brightness(
                zenith_brightness=self.site.sky_brightness, wavelength=_in_tables(node_nm) * u.nm, altitude=altitude,
                height=self.site.height, moon_altitude=moon_altitude, moon_separation=moon_separation,
                moon_phase_angle=moon_phase_angle, sun_altitude=sun_altitude).to_value(SURFACE_BRIGHTNESS)
            photons = photons + _flux_of_zero(node_nm) * weight_nm * 10 ** (-0.4 * brightness)
        area = self.rig.telescope.collecting_area.to_value(u.m**2)
        return photons * area * self.recorded.transmission * self._efficiency * self.pixel_area.value * PIXEL_RATE

    def passed(self, altitude: u.Quantity[u.deg]) -> np.ndarray:
        """Return the light that the air passes at apparent altitudes, any shape, relative to the zenith."""
        of_zero = [self._of_zero(airmass_at(angle).value) for angle in (altitude, 90 * u.deg)]
        return of_zero[0] / of_zero[1]

    @property
    def dark(self) -> u.Quantity[PIXEL_RATE]:
        """Dark current of one pixel."""
        return dark_rate(self.rig.camera, binning=self.rig.binning)

    @property
    def zenith_background(self) -> u.Quantity[PIXEL_RATE]:
        """Sky and dark current in the moonless zenith."""
        return self.sky(altitude=90 * u.deg) + self.dark

    @property
    def _efficiency(self) -> float:
        """Electrons per photon from the aperture to the pixel, the filter and what colours it aside."""
        return self.rig.telescope.transmission * self.rig.camera.quantum_efficiency

    def _of_zero(self, airmass: Array) -> Any:
        """Return electrons per second of magnitude 0 through the recorded part of the filter."""
        photons = box_photons(self.recorded, airmass, above_sea_level(self.site.height)) * self.recorded.transmission
        return photons * self.rig.telescope.collecting_area.to_value(u.m**2) * self._efficiency


def _line_photons(intensity: u.Quantity, line_nm: float) -> Any:
    """Return a line's photons [1 / (s m2 arcsec2)]."""
    energy = (constants.h * constants.c / (line_nm * u.nm)) / u.photon
    for unit, divisor in ((SURFACE_PHOTONS, 1), (SURFACE_ENERGY, energy)):
        if isinstance(intensity, u.Quantity) and intensity.unit.is_equivalent(unit):
            return (intensity / divisor).to_value(SURFACE_PHOTONS)
    raise InvalidInputError("line intensity", intensity, "must be in rayleigh or in erg / (s cm2 arcsec2)",
                            'Write it like "20 R" or "2e-16 erg / (s cm2 arcsec2)".')


def above_sea_level(height: u.Quantity) -> float:
    """Return the height [m]; below the sea counts as sea level, where the extinction formulas begin."""
    return max(float(height.to_value(u.m)), 0.0)


def box_photons(band: Filter, airmass: Any, height_m: float) -> np.ndarray:
    """Return the photons [1 / (s m2)] of magnitude 0 in a box filter after the air."""
    flux, per_airmass = _through_box(band.centre.to_value(u.nm), band.width.to_value(u.nm), height_m)
    return (_air_transmission(per_airmass, airmass) * flux).sum(axis=-1)


@lru_cache(maxsize=64)  # many cameras behind one filter
def _through_box(centre_nm: float, width_nm: float, height_m: float) -> tuple[np.ndarray, np.ndarray]:
    """Return the photons of magnitude 0 at the nodes of a box filter [1 / (s m2)], and their extinction."""
    nodes_nm, weights_nm = _box_nodes(centre_nm, width_nm, FINE_BOX)
    return _flux_of_zero(nodes_nm) * weights_nm, _per_airmass(nodes_nm, height_m)


def _per_airmass(nodes_nm: np.ndarray, height_m: float) -> np.ndarray:
    """Return the extinction at some wavelengths [mag/airmass]."""
    return np.asarray(extinction(_in_tables(nodes_nm) * u.nm, height=height_m * u.m).value)


def _air_transmission(per_airmass: np.ndarray, airmass: Any) -> np.ndarray:
    """Return the air's transmission, wavelengths along a new last axis."""
    return 10 ** (-0.4 * np.asarray(airmass, dtype=float)[..., np.newaxis] * per_airmass)


def _in_tables(wavelength_nm: np.ndarray) -> np.ndarray:
    """Return the wavelength, held where the tables of the air end; a box that reaches beyond takes their last value."""
    return np.clip(wavelength_nm, 300.0, 1100.0)


def _box_nodes(centre_nm: float, width_nm: float, rule: tuple[np.ndarray, np.ndarray]
               ) -> tuple[np.ndarray, np.ndarray]:
    """Return wavelengths and weights [nm] of a Gauss-Legendre rule over a filter's box."""
    return centre_nm + width_nm / 2 * rule[0], width_nm / 2 * rule[1]
