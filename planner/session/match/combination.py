"""One choice of camera, telescope, reducer and binning, weighed."""

from dataclasses import dataclass

from astropy import units as u

from planner.optics import FieldOfView, StarImage
from planner.rig import Camera, Reducer, Telescope
from planner.session.match.framing import Framing


@dataclass(frozen=True, kw_only=True)
class Noise:
    """Where the variance of one pixel comes from, as shares of it, in one sub-exposure of the recommended length."""

    source: float
    sky: float
    dark: float
    read: float


@dataclass(frozen=True, kw_only=True)
class Rates:
    """What one (binned) pixel collects, mean over the window, and how many of them a piece of sky has."""

    source: float  # electrons per second
    background: float  # sky and dark current, electrons per second
    read_noise: u.Quantity[u.electron]
    pixels_per_arcsec2: float  # that record the filter


@dataclass(frozen=True, kw_only=True)
class Combination:
    """One choice, weighed."""

    camera: Camera
    telescope: Telescope
    reducer: Reducer | None
    binning: int
    train: Telescope  # the telescope as it works behind the reducer
    image_scale: u.Quantity[u.arcsec / u.pix]
    field: FieldOfView  # that is lit: the sensor's, cut to the lit circle
    lit: float  # side of that field over the sensor's: 1 where the whole sensor is lit
    star: StarImage  # as recorded, without motion
    seeing_fwhm: u.Quantity[u.arcsec]  # of the air alone, at the filter's wavelength, mean over the window
    fwhm_before_pixel: u.Quantity[u.arcsec]
    framing: Framing
    sub_exposure: u.Quantity[u.s]
    noise: Noise
    rates: Rates
    surface_time: u.Quantity[u.h]  # clock, one field, on a mount that moves no star
    detail_time: u.Quantity[u.h]  # likewise

    @property
    def name(self) -> str:
        """What it is made of: ``long, 0.7 reducer, aps-c, bin 2``."""
        parts = [self.telescope.name, *([self.reducer.name] if self.reducer else []), self.camera.name]
        return ", ".join([*parts, f"bin {self.binning}"])

    @property
    def fwhm(self) -> u.Quantity[u.arcsec]:
        """Width of a star as recorded, without motion."""
        return self.star.fwhm

    @property
    def fwhm_pixels(self) -> float:
        """The same in (binned) pixels."""
        return float((self.fwhm / self.image_scale).to_value(u.pix))

    @property
    def resolution_lost(self) -> float:
        """Share of the recorded width that the pixel adds: 1 - width before / width after the pixel."""
        return 1 - float((self.fwhm_before_pixel / self.fwhm).to_value(u.one))

    @property
    def optics_share(self) -> float:
        """Share of the recorded width that diffraction and blur add to the air's, before the pixel."""
        return float(((self.fwhm_before_pixel - self.seeing_fwhm) / self.fwhm).to_value(u.one))

    @property
    def field_area(self) -> u.Quantity[u.deg**2]:
        """Sky in one field."""
        return self.field.width * self.field.height
