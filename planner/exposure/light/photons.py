"""Photons: what a star, a glow or an emission line brings to one pixel, in electrons per second.

Magnitudes are Vega magnitudes at the wavelength of the filter: a source of magnitude m has Vega's spectrum, scaled.
The zero point and the air's transmission are averaged over the box that a pixel records (`recorded_band`). Rates are
those of one pixel of the colour that collects most of the filter's light.
"""

from typing import Any

import numpy as np
from astropy import constants
from astropy import units as u

from planner.checks import check_units
from planner.errors import InvalidInputError
from planner.exposure.light.recorded_band import recorded_band, response
from planner.optics.filter_cone import cone_share
from planner.rig import Filter, Rig, Site
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
PIXEL_RATE = u.electron / u.s / u.pix
SURFACE_BRIGHTNESS = u.mag / u.arcsec**2
SURFACE_PHOTONS = u.photon / (u.s * u.m**2 * u.arcsec**2)
SURFACE_ENERGY = u.erg / (u.s * u.cm**2 * u.arcsec**2)


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


@check_units
def star_electron_rate(magnitude: u.Quantity[u.mag], rig: Rig, band: Filter, *, airmass: Array = 0.0,
                       height: u.Quantity[u.m] = 0 * u.m) -> u.Quantity[u.electron / u.s]:
    """Return the electrons per second that all of a star's light makes, as if all pixels were of the recorded colour.

    Parameters
    ----------
    magnitude : Quantity [mag], any shape
        Vega magnitude outside the atmosphere.
    rig : Rig
    band : Filter
    airmass : float, broadcast against `magnitude`
        0: no atmosphere.
    height : Quantity [m]
        Height of the site, for the extinction.

    Returns
    -------
    Quantity [electron / s], shape of the broadcast

    Notes
    -----
    Rate = zero point over the box × area − obstruction × transmissions × quantum efficiency × 10^(−0.4 m).
    """
    return _rate_at_zero(rig, band, airmass, height) * 10 ** (-0.4 * magnitude.to_value(u.mag)) * u.electron / u.s


@check_units
def surface_electron_rate(brightness: u.Quantity[u.mag / u.arcsec**2], rig: Rig, band: Filter, *, airmass: Array = 0.0,
                          height: u.Quantity[u.m] = 0 * u.m) -> u.Quantity[PIXEL_RATE]:
    """Return the electrons per second and (binned) pixel from a surface of a given brightness.

    Parameters
    ----------
    brightness : Quantity [mag / arcsec2], any shape
        Vega magnitude per square arcsecond, outside the atmosphere; as seen from the ground with `airmass` 0.
    rig, band, airmass, height
        As in `star_electron_rate`.

    Returns
    -------
    Quantity [electron / (s pix)], shape of the broadcast
        Per binned pixel of the recorded colour.
    """
    per_arcsec2 = _rate_at_zero(rig, band, airmass, height) * 10 ** (-0.4 * brightness.to_value(SURFACE_BRIGHTNESS))
    return per_arcsec2 * pixel_area(rig).value * PIXEL_RATE


def line_electron_rate(intensity: u.Quantity, rig: Rig, band: Filter, *, wavelength: u.Quantity | None = None,
                       airmass: Array = 0.0, height: u.Quantity = 0 * u.m) -> u.Quantity:
    """Return the electrons per second and (binned) pixel from one emission line.

    Parameters
    ----------
    intensity : Quantity [rayleigh] or [erg / (s cm2 arcsec2)], any shape
        Outside the atmosphere. 1 rayleigh = 10^10 / 4π photon / (s m2 sr).
    rig, band, airmass, height
        As in `star_electron_rate`.
    wavelength : Quantity [nm], optional
        Of the line; the centre of the filter if absent.

    Returns
    -------
    Quantity [electron / (s pix)], shape of the broadcast
        0 where the line falls outside the filter; on a colour sensor that of the pixels of `recorded_band`. Less by
        what a fast cone loses in the filter (`cone_share`).

    Raises
    ------
    InvalidInputError
        If the intensity is neither in photons nor in energy per area, time and solid angle.
    """
    recorded = recorded_band(rig.camera, band)
    line_nm = float((recorded.centre if wavelength is None else wavelength).to_value(u.nm))
    passed = float(response(rig.camera, recorded.origin, recorded.colour, np.array(line_nm)))
    photons = _line_photons(intensity, line_nm) * rig.telescope.collecting_area.to_value(u.m**2)
    air = _air_transmission(np.array([line_nm]), airmass, above_sea_level(height))[..., 0]
    if not recorded.origin.curve:
        passed *= cone_share(recorded.origin.centre, recorded.origin.width, focal_ratio=rig.telescope.focal_ratio,
                             obstruction=rig.telescope.obstruction)
    return photons * air * _efficiency(rig) * passed * pixel_area(rig).value * PIXEL_RATE


def _line_photons(intensity: u.Quantity, line_nm: float) -> Any:
    """Return a line's photons [1 / (s m2 arcsec2)]."""
    energy = (constants.h * constants.c / (line_nm * u.nm)) / u.photon
    for unit, divisor in ((SURFACE_PHOTONS, 1), (SURFACE_ENERGY, energy)):
        if isinstance(intensity, u.Quantity) and intensity.unit.is_equivalent(unit):
            return (intensity / divisor).to_value(SURFACE_PHOTONS)
    raise InvalidInputError("line intensity", intensity, "must be in rayleigh or in erg / (s cm2 arcsec2)",
                            'Write it like "20 R" or "2e-16 erg / (s cm2 arcsec2)".')


@check_units
def sky_electron_rate(rig: Rig, site: Site, band: Filter, *, altitude: u.Quantity[u.deg],
                      moon_altitude: u.Quantity[u.deg] | None = None,
                      moon_separation: u.Quantity[u.deg] | None = None,
                      moon_phase_angle: u.Quantity[u.deg] | None = None,
                      sun_altitude: u.Quantity[u.deg] | None = None) -> u.Quantity[PIXEL_RATE]:
    """Return the sky's electrons per second and (binned) pixel for this filter, direction and time.

    Parameters
    ----------
    rig : Rig
    site : Site
    band : Filter
    altitude : Quantity [deg], any shape
        Apparent altitude of the field.
    moon_altitude, moon_separation, moon_phase_angle : Quantity [deg], broadcast, optional
        The Moon's altitude, its distance from the field, and its phase angle (0 at full Moon): all three, or no Moon.
    sun_altitude : Quantity [deg], broadcast, optional
        For twilight.

    Returns
    -------
    Quantity [electron / (s pix)], shape of the broadcast
    """
    recorded = recorded_band(rig.camera, band)
    photons: Array = 0.0
    for node_nm, weight_nm in zip(*_box_nodes(recorded, SKY_BOX), strict=True):
        brightness = sky_brightness(
            zenith_brightness=site.sky_brightness, wavelength=_in_tables(node_nm) * u.nm, altitude=altitude,
            height=site.height, moon_altitude=moon_altitude, moon_separation=moon_separation,
            moon_phase_angle=moon_phase_angle, sun_altitude=sun_altitude).to_value(SURFACE_BRIGHTNESS)
        photons = photons + _flux_of_zero(node_nm) * weight_nm * 10 ** (-0.4 * brightness)
    area = rig.telescope.collecting_area.to_value(u.m**2)
    return photons * area * recorded.transmission * _efficiency(rig) * pixel_area(rig).value * PIXEL_RATE


def pixel_area(rig: Rig) -> u.Quantity[u.arcsec**2 / u.pix]:
    """Return the sky that one (binned) pixel covers."""
    side = rig.camera.pixel_pitch.to_value(u.mm) * rig.binning / rig.telescope.focal_length.to_value(u.mm)
    return (side * u.rad.to(u.arcsec)) ** 2 * u.arcsec**2 / u.pix


def _efficiency(rig: Rig) -> float:
    """Return electrons per photon from the aperture to the pixel, the filter and what colours it aside."""
    return rig.telescope.transmission * rig.camera.quantum_efficiency


def _rate_at_zero(rig: Rig, band: Filter, airmass: Any, height: u.Quantity) -> u.Quantity:
    """Return electrons per second of magnitude 0 through the recorded part of the filter."""
    recorded = recorded_band(rig.camera, band)
    photons = box_photons(recorded, airmass, above_sea_level(height)) * recorded.transmission
    return photons * rig.telescope.collecting_area.to_value(u.m**2) * _efficiency(rig)


def above_sea_level(height: u.Quantity) -> float:
    """Return the height [m]; below the sea counts as sea level, where the extinction formulas begin."""
    return max(float(height.to_value(u.m)), 0.0)


def box_photons(band: Filter, airmass: Any, height_m: float) -> np.ndarray:
    """Return the photons [1 / (s m2)] of magnitude 0 in a box filter after the air."""
    nodes_nm, weights_nm = _box_nodes(band, FINE_BOX)
    flux = _flux_of_zero(nodes_nm) * weights_nm
    return (_air_transmission(nodes_nm, airmass, height_m) * flux).sum(axis=-1)


def _air_transmission(nodes_nm: np.ndarray, airmass: Any, height_m: float) -> np.ndarray:
    """Return the air's transmission, wavelengths along a new last axis."""
    per_airmass = extinction(_in_tables(nodes_nm) * u.nm, height=height_m * u.m).value
    return 10 ** (-0.4 * np.asarray(airmass, dtype=float)[..., np.newaxis] * per_airmass)


def _in_tables(wavelength_nm: np.ndarray) -> np.ndarray:
    """Return the wavelength, held where the tables of the air end; a box that reaches beyond takes their last value."""
    return np.clip(wavelength_nm, 300.0, 1100.0)


def _box_nodes(band: Filter, rule: tuple[np.ndarray, np.ndarray]) -> tuple[np.ndarray, np.ndarray]:
    """Return wavelengths and weights [nm] of a Gauss-Legendre rule over a filter's box."""
    half_nm = band.width.to_value(u.nm) / 2
    return band.centre.to_value(u.nm) + half_nm * rule[0], half_nm * rule[1]
