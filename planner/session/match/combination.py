"""One telescope, reducer and camera: what they show of the sky, and the rig that they make on the observer's mount."""

from dataclasses import dataclass, replace
from typing import Annotated, Any

import numpy as np
from astropy import units as u

from planner.exposure.scene import Scene
from planner.fields import Key, Many, Spread, told
from planner.optics import FieldOfView, field_of_view, still_star
from planner.optics.colour_array import interpolation_blur
from planner.rig import Camera, Filter, Reducer, Rig, Telescope
from planner.session.projects.framing import Framing

NO_PIXEL = 1e-3  # of the true pixel: so small that it blurs nothing


@dataclass(frozen=True, kw_only=True)
class Combination:
    """What one choice shows of the sky."""

    camera: Annotated[Camera, "its name"]
    telescope: Annotated[Telescope, "its name"]
    reducer: Annotated[Reducer | None, "its name; null without one"]
    binning: int
    train: Telescope  # the telescope as it works behind the reducer
    image_scale: Annotated[u.Quantity[u.arcsec / u.pix], "of the pixels as read and binned"]
    field: FieldOfView  # that counts: the sensor's, cut to the image circle unless that limit is lifted
    lit: Annotated[float, "side of the lit field over the sensor's: 1 where the whole sensor is lit",
                   Key("lit_side_fraction")]
    fwhm: Annotated[u.Quantity[u.arcsec], "of a star as recorded, binned, without motion", Key("star_fwhm_arcsec")]
    picture_fwhm: Annotated[u.Quantity[u.arcsec], "of a star in a picture: a colour array filled in, unless drizzled"]
    seeing_fwhm: u.Quantity[u.arcsec]  # of the air alone, at the filter's wavelength, mean over the window
    fwhm_before_pixel: u.Quantity[u.arcsec]
    framing: Annotated[Framing, Spread()]
    focal_length = told(u.mm, "effective, reducer included", lambda choice: choice.train.focal_length)
    focal_ratio = told(float, "f/N, reducer included", lambda choice: choice.train.focal_ratio)
    sides = told(u.deg, "width and height of the field that counts", lambda choice: u.Quantity([
        choice.field.width, choice.field.height]), Many(), key="field_deg")

    @property
    def fwhm_pixels(self) -> Annotated[float, "of a star as recorded, in binned pixels", Key("star_fwhm_pixels")]:
        """Width of a star as recorded, in (binned) pixels."""
        return float((self.fwhm / self.image_scale).to_value(u.pix))

    @property
    def no_focus(self) -> str:
        """What keeps the sensor from the focus; empty where nothing does."""
        return focus_missing(self.telescope, self.reducer, self.camera)

    @property
    def resolution_lost(self) -> Annotated[float, "1 − width of a star before the pixel / in the picture",
                                           Key("resolution_lost_fraction")]:
        """Share of the picture's width that the pixel adds, and filling in a colour: 1 - width before / width after."""
        return 1 - float((self.fwhm_before_pixel / self.picture_fwhm).to_value(u.one))

    @property
    def optics_share(self) -> Annotated[float, "share of the picture's width that the optics add to the air's",
                                        Key("optics_fraction")]:
        """Share of the picture's width that diffraction and blur add to the air's, before the pixel."""
        return float(((self.fwhm_before_pixel - self.seeing_fwhm) / self.picture_fwhm).to_value(u.one))

    @property
    def field_area(self) -> u.Quantity[u.deg**2]:
        """Sky in one field."""
        return self.field.width * self.field.height


def lit_circles(train: Telescope, band: Filter) -> dict[str, u.Quantity[u.mm]]:
    """Return the diameters at the sensor that get all of the light, by what cuts them.

    A filter of diameter d at a distance a before the sensor lets the whole cone of f/N through to (d − a/N)/(1 − a/f).
    """
    found = {} if train.image_circle is None else {"image circle": train.image_circle}
    if band.diameter is not None:
        before = float((band.distance / train.focal_length).to_value(u.one))
        circle = (band.diameter - band.distance / train.focal_ratio) / max(1 - before, 0.1)
        found["filter's diameter"] = np.maximum(circle, 0.01 * band.diameter)
    return found


def lit_side(train: Telescope, camera: Camera, band: Filter) -> float:
    """Return the side of the largest field of the sensor's shape that is lit, over the sensor's side."""
    diagonal = camera.pixel_pitch * float(np.hypot(camera.columns, camera.rows))
    return min([1.0, *(float((circle / diagonal).to_value(u.one)) for circle in lit_circles(train, band).values())])


def field_behind(train: Telescope, camera: Camera, side: float) -> FieldOfView:
    """Return the field of a share of the sensor's side."""
    return field_of_view(camera.pixel_pitch * side, camera.columns, camera.rows, train.focal_length)


def stars_behind(train: Telescope, scene: Scene, *, drizzled: bool) -> dict[str, Any]:
    """Return scale and star of a scene behind a train: as recorded, in a picture, and before the pixel.

    Single pixels of a colour array are filled in unless the frames are drizzled; two by two hold every colour.
    """
    recorded, filled_in = scene.still_width(), interpolation_blur(scene.band.colour, scene.image_scale)
    whole = drizzled or scene.rig.binning > 1 or filled_in == 0
    before = still_star(
        seeing_fwhm=scene.seeing_fwhm, wavelength=scene.band.centre, aperture=train.aperture,
        obstruction=train.obstruction, focus_blur_fwhm=train.field_blur, image_scale=NO_PIXEL * scene.image_scale).fwhm
    return {"image_scale": scene.image_scale, "seeing_fwhm": scene.seeing_fwhm, "fwhm": recorded,
            "picture_fwhm": recorded if whole else scene.still_width(np.hypot(train.field_blur, filled_in)),
            "fwhm_before_pixel": before}


def focus_missing(telescope: Telescope, reducer: Reducer | None, camera: Camera) -> str:
    """Return what keeps a sensor from the focus; nothing where it reaches it, or too little is known.

    A thin lens of magnification m with the sensor at d behind it stands d/m before the telescope's own focus
    (E. Hecht, Optics, 4th ed., eq. 5.17 and 5.25, from memory).
    """
    wanted, own = camera.back_focus, telescope.back_focus
    if reducer is not None:
        behind = reducer.back_focus
        if behind is not None and wanted is not None and wanted > behind:
            return (f"no focus: the camera needs {wanted.value:g} mm behind the lens, which holds its factor at "
                    f"{behind.value:g} mm")
        wanted = None if behind is None else behind / reducer.factor
    if own is None or wanted is None or wanted <= own:
        return ""
    return f"no focus: {wanted.value:.0f} mm are needed behind the telescope, {own.value:g} mm are there"


def rig_with(rig: Rig, train: Telescope, camera: Camera, *, binning: int = 1) -> Rig:
    """Return another telescope and camera on the rig's mount."""
    return replace(rig, telescope=train, camera=camera, binning=binning, reducer=None,
                   guider=None if rig.guider is None else rig.guider.on(train))
