"""One telescope, reducer and camera: what they show of the sky, whatever the mount does."""

from dataclasses import dataclass

import numpy as np
from astropy import units as u

from planner.optics import FieldOfView, StarImage, field_of_view, image_scale, star_image, still_star
from planner.rig import Camera, Filter, Reducer, Telescope
from planner.session.match.framing import Framing

NO_PIXEL = 1e-3  # of the true pixel: so small that it blurs nothing


@dataclass(frozen=True, kw_only=True)
class Combination:
    """What one choice shows of the sky."""

    camera: Camera
    telescope: Telescope
    reducer: Reducer | None
    binning: int
    train: Telescope  # the telescope as it works behind the reducer
    image_scale: u.Quantity[u.arcsec / u.pix]
    field: FieldOfView  # that counts: the sensor's, cut to the image circle unless that limit is lifted
    lit: float  # side of the lit field over the sensor's: 1 where the whole sensor is lit
    star: StarImage  # as recorded, without motion
    seeing_fwhm: u.Quantity[u.arcsec]  # of the air alone, at the filter's wavelength, mean over the window
    fwhm_before_pixel: u.Quantity[u.arcsec]
    framing: Framing

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


def lit_side(train: Telescope, camera: Camera) -> float:
    """Return the side of the largest field of the sensor's shape inside the image circle, over the sensor's side."""
    if train.image_circle is None:
        return 1.0
    diagonal = camera.pixel_pitch * float(np.hypot(camera.columns, camera.rows))
    return min(1.0, float((train.image_circle / diagonal).to_value(u.one)))


def field_behind(train: Telescope, camera: Camera, side: float) -> FieldOfView:
    """Return the field of a share of the sensor's side."""
    return field_of_view(camera.pixel_pitch * side, camera.columns, camera.rows, train.focal_length)


def stars_behind(train: Telescope, camera: Camera, binning: int, *, seeing_fwhm: u.Quantity[u.arcsec], band: Filter,
                 ) -> dict[str, u.Quantity | StarImage]:
    """Return scale and star of a camera at a binning, and the star's width before the pixel."""
    scale = image_scale(camera.pixel_pitch, train.focal_length, binning=binning)
    star = {"seeing_fwhm": seeing_fwhm, "wavelength": band.centre, "aperture": train.aperture,
            "obstruction": train.obstruction, "focus_blur_fwhm": train.field_blur}
    return {"image_scale": scale, "seeing_fwhm": seeing_fwhm, "star": star_image(image_scale=scale, **star),
            "fwhm_before_pixel": still_star(image_scale=NO_PIXEL * scale, **star).fwhm}
