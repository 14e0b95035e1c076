"""What of a filter the pixels record: all of it on a mono sensor, what a dye passes under a colour-filter array.

A filter or an efficiency given as a curve, and the dye of a pixel, are folded into a box of the same light, mean
wavelength and spread, so that every other module knows boxes only. Dyes overlap: OIII at 501 nm is seen by green and by
blue pixels, and one frame through a broad filter holds three colours, through a filter with two windows two lines.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby, pairwise
from typing import Any

import numpy as np
from astropy import units as u

from planner.rig import Camera, Filter
from planner.rig.filter import LINE_WIDTH

# Share of the pixels under each dye of a colour-filter array, and where it passes half [nm]; edges fall off like a
# logistic of this step. Rounded to 5 nm to the mean of four measured cameras, which differ by 10 nm; beyond its edge a
# dye is taken as clear, infrared included: Jiang, Liu, Gu & Suesstrunk, IEEE WACV 2013, 168,
# doi:10.1109/WACV.2013.6475015 (database, three of them), and a digitized data sheet.
DYES = {"blue": (0.25, -np.inf, 515.0), "green": (0.50, 500.0, 590.0), "red": (0.25, 585.0, np.inf)}
DYE_STEP_NM = 14.0
FAINT = 0.02  # of the light of the main colour: less is not counted as recorded


@dataclass(frozen=True, kw_only=True)
class RecordedBand(Filter):
    """What of a filter one kind of pixel records, as a box of the same light, mean wavelength and spread.

    Its transmission holds that of the filter, the dye, and the efficiency over the camera's highest one.
    """

    colour: str  # blue, green, red; mono where every pixel is alike
    share: float  # of all pixels, counted in pixels of this colour: others that record the same light count as well
    origin: Filter


@lru_cache(maxsize=256)
def recorded_band(camera: Camera, band: Filter) -> RecordedBand:
    """Return what of a filter the pixels record that collect most of its light; on a mono sensor all of it.

    Its `share` counts the pixels of the other colours too, as far as they record the same light: in a picture of a
    continuous spectrum all colours are added, with the square of their signal over their noise, which for a source of
    the sky's colour is their share of light. Lines (`LINE_WIDTH`) count only where the other colour sees the same one.
    """
    if isinstance(band, RecordedBand):
        return band
    return _counted(recorded_bands(camera, band))


def slowest_line(camera: Camera, band: Filter) -> Filter:
    """Return what the pixels record least of, of the lines that a colour sensor separates behind two windows.

    The filter itself on a mono sensor, whose frames mix them, or where all is one light.
    """
    bands = recorded_bands(camera, band)
    lines = [_counted((one, *(other for other in bands if other is not one))) for one in bands]
    if not (camera.colour != "mono" and band.narrow and len(band.windows) > 1) or not lines:
        return band
    seen = [max((one for one in lines if abs(one.centre - line.centre) < LINE_WIDTH),
                key=lambda one: one.share * light_of(one)) for line in lines]
    return min(seen, key=lambda one: one.share * light_of(one))


def recorded_bands(camera: Camera, band: Filter) -> tuple[RecordedBand, ...]:
    """Return what of a filter each kind of pixel records, the one that collects most first.

    One on a mono sensor; on a colour sensor those that record more than `FAINT` of the light of the first. Their
    `share` is that of the pixels of their own colour.
    """
    if camera.colour == "mono" and not band.curve and not camera.response:
        return (_boxed(band, "mono", 1.0, band.centre.value, band.width.value, band.transmission),)
    dyes = {"mono": (1.0, -np.inf, np.inf)} if camera.colour == "mono" else DYES
    found = [max((_boxed_light(camera, band, colour, corners) for corners in _windows(band, colour)), key=light_of)
             for colour in dyes]
    found.sort(key=lambda one: -one.share * light_of(one))
    return tuple(one for one in found if light_of(one) > FAINT * light_of(found[0]))


def light_of(band: Filter) -> float:
    """Return the light that a band passes of a flat spectrum, transmission × width [nm]."""
    return band.transmission * float(band.width.value)


def _counted(bands: tuple[RecordedBand, ...]) -> RecordedBand:
    """Return the first band with the pixels of all colours that record the same light counted."""
    main = bands[0]
    near = main.width if main.width < LINE_WIDTH else np.inf * u.nm
    share = sum(one.share * light_of(one) / light_of(main) for one in bands if abs(one.centre - main.centre) < near)
    return _boxed(main.origin, main.colour, share, main.centre.value, main.width.value, main.transmission)


def _boxed_light(camera: Camera, band: Filter, colour: str, corners: Sequence[float]) -> RecordedBand:
    """Return the light between some wavelengths [nm] as a box."""
    nodes = np.concatenate([np.linspace(low, high, 33) for low, high in pairwise(corners)])
    passed = response(camera, band, colour, nodes)
    light = np.trapezoid(passed, nodes)
    middle = np.trapezoid(passed * nodes, nodes) / light
    spread = np.sqrt(12 * np.trapezoid(passed * (nodes - middle)**2, nodes) / light)
    width = float(np.clip(spread, 0.05, 1.9 * middle))
    share = DYES[colour][0] if colour in DYES else 1.0
    return _boxed(band, colour, share, float(middle), width, max(float(light / width), 0.001))


def _windows(band: Filter, colour: str) -> list[Sequence[float]]:
    """Return the wavelengths [nm] between which a filter is a straight line, by window; one window on a mono sensor.

    Of a filter with two, a dye picks the window that it passes best; the little of the other is left out.
    """
    if not band.curve:
        return [np.linspace(-0.5, 0.5, 9) * band.width.value + band.centre.value]
    nm = [one for one, _ in band.curve]
    open_cells = [max(pair) > 0 for pair in pairwise(value for _, value in band.curve)]
    if colour == "mono" or not any(open_cells):
        return [nm]
    runs = [[place for place, _ in run] for is_open, run in groupby(enumerate(open_cells), lambda cell: cell[1])
            if is_open]
    return [nm[run[0]:run[-1] + 2] for run in runs]


def _boxed(origin: Filter, colour: str, share: float, centre_nm: float, width_nm: float, transmission: float
           ) -> RecordedBand:
    return RecordedBand(name=origin.name, centre=centre_nm * u.nm, width=width_nm * u.nm, transmission=transmission,
                        colour=colour, share=share, origin=origin)


def response(camera: Camera, band: Filter, colour: str, wavelength_nm: np.ndarray) -> np.ndarray:
    """Return what passes filter and dye, times the efficiency over its highest, at wavelengths [nm] of any shape."""
    passed = np.where(2 * np.abs(wavelength_nm - band.centre.value) <= band.width.value, band.transmission, 0.0)
    if band.curve:
        passed = _interpolated(wavelength_nm, band.curve, outside=0.0)
    if camera.response:
        passed = passed * _interpolated(wavelength_nm, camera.response) / camera.quantum_efficiency
    if colour in DYES:
        _, low, high = DYES[colour]
        with np.errstate(over="ignore"):
            passed = passed / (1 + np.exp((low - wavelength_nm) / DYE_STEP_NM)) / (
                1 + np.exp((wavelength_nm - high) / DYE_STEP_NM))
    return passed


def _interpolated(wavelength_nm: np.ndarray, curve: Any, *, outside: float | None = None) -> np.ndarray:
    """Return a curve at some wavelengths [nm]; outside it a value, or that of its end."""
    nm, value = zip(*curve, strict=True)
    return np.interp(wavelength_nm, nm, value, left=outside, right=outside)
