"""What follows from a part of the equipment: the figures beside its form, as words."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from astropy import units as u

from planner.exposure.light.saturation import saturation_limit
from planner.optics.diffraction import airy_fwhm
from planner.optics.field import FieldOfView, field_of_view
from planner.optics.focus import focus_shift, focus_tolerance
from planner.optics.image_scale import image_scale
from planner.optics.star_image import star_image
from planner.rig import Camera, Equipment, Filter, Guider, Mount, Reducer, Rig, Site, Telescope
from planner.tracking.drive import encoder_step

WAVELENGTH = 500 * u.nm  # at which a site's seeing is given
ACCEPTED_BLUR = 1 / 3  # of the seeing: widens the star by a few percent, see planner/optics/focus.py


@dataclass(frozen=True)
class Figure:
    """One derived figure: what it is, its value with unit, and a remark."""

    label: str
    value: str
    remark: str = ""


@dataclass(frozen=True, kw_only=True)
class RigFigures:
    """What a rig delivers at the zenith of a site."""

    image_scale: u.Quantity[u.arcsec / u.pix]
    field: FieldOfView
    star_fwhm: u.Quantity[u.arcsec]  # 500 nm, no motion
    refocus_change: u.Quantity[u.K]  # change of the tube's temperature that takes the focus out of its tolerance


def rig_figures(rig: Rig, site: Site) -> RigFigures:
    """Return what a rig delivers at the zenith of a site, in its usual seeing."""
    telescope, camera = rig.telescope, rig.camera
    scale = image_scale(camera.pixel_pitch, telescope.focal_length, binning=rig.binning)
    star = star_image(
        seeing_fwhm=site.seeing, wavelength=WAVELENGTH, aperture=telescope.aperture, obstruction=telescope.obstruction,
        image_scale=scale, focus_blur_fwhm=telescope.field_blur)
    return RigFigures(
        image_scale=scale, star_fwhm=star.fwhm_major,
        field=field_of_view(camera.pixel_pitch, camera.columns, camera.rows, telescope.focal_length),
        refocus_change=refocus_change(telescope, site))


def refocus_change(telescope: Telescope, site: Site) -> u.Quantity[u.K]:
    """Return the change of the tube's temperature that blurs the star by a third of the seeing, or beyond diffraction.

    Infinite for a tube that does not expand.
    """
    tolerance = focus_tolerance(WAVELENGTH, telescope.focal_ratio, telescope.focal_length,
                                blur=site.seeing * ACCEPTED_BLUR)
    shift = abs(focus_shift(telescope.expansion, telescope.expanding_length, 1 * u.K).to_value(u.um))
    return (float(tolerance.to_value(u.um)) / shift if shift > 0 else float("inf")) * u.K


def part_figures(part: Any, equipment: Equipment) -> tuple[Figure, ...]:
    """Return the derived figures of a site, telescope, reducer, camera, filter, mount, guider or rig."""
    return _FIGURES[type(part)](part, equipment)


def _site(site: Site, _: Equipment) -> tuple[Figure, ...]:
    highest = "flat" if site.horizon is None else f"up to {site.horizon.altitude.max().to_value(u.deg):.0f}°"
    return (Figure("Air pressure", f"{site.station_pressure.to_value(u.hPa):.0f} hPa",
                   "as given" if site.pressure is not None else "standard for the height"),
            Figure("Skyline", highest))


def _telescope(telescope: Telescope, equipment: Equipment) -> tuple[Figure, ...]:
    change = refocus_change(telescope, equipment.site()).to_value(u.K)
    return (
        Figure("Focal ratio", f"f/{telescope.focal_ratio:.1f}"),
        Figure("Collecting area", f"{telescope.collecting_area.to_value(u.cm**2):.0f} cm²", "without the obstruction"),
        Figure("Diffraction", f"{airy_fwhm(WAVELENGTH, telescope.aperture).to_value(u.arcsec):.2f}″", "FWHM at 500 nm"),
        Figure("Refocus after", _kelvin(change), "warmer or colder; by the tube's length alone"),
    )


def _reducer(reducer: Reducer, equipment: Equipment) -> tuple[Figure, ...]:
    trains = [(item.name, reducer.behind(item)) for item in equipment.telescopes if reducer.fits(item)]
    return tuple(Figure(f"Behind {name}", f"{train.focal_length.to_value(u.mm):.0f} mm", f"f/{train.focal_ratio:.1f}")
                 for name, train in trains)


def _camera(camera: Camera, _: Equipment) -> tuple[Figure, ...]:
    pitch = camera.pixel_pitch.to_value(u.mm)
    limit = saturation_limit(camera)
    return (
        Figure("Sensor", f"{camera.columns * pitch:.1f} × {camera.rows * pitch:.1f} mm"),
        Figure("Pixels", f"{camera.columns * camera.rows / 1e6:.1f} million"),
        Figure("Saturates at", f"{limit.value:.0f} e",
               "the full well" if limit == camera.full_well else "the end of the converter"),
    )


def _filter(band: Filter, _: Equipment) -> tuple[Figure, ...]:
    low, high = ((band.centre + side * band.width / 2).to_value(u.nm) for side in (-1, 1))
    return (Figure("Passes", f"{low:.0f} to {high:.0f} nm"),)


def _mount(mount: Mount, _: Equipment) -> tuple[Figure, ...]:
    step = "none" if mount.encoder_counts is None else f"{encoder_step(mount.encoder_counts).to_value(u.arcsec):.3f}″"
    return (
        Figure("Periodic error", f"{mount.peak_to_peak.to_value(u.arcsec):.1f}″",
               "peak to peak, all terms at their crest together"),
        Figure("Encoder step", step),
        Figure("Figures", mount.drive_class or "your own",
               "common practice, no source: measure a drift log" if mount.drive_class else ""),
    )


def _guider(guider: Guider, _: Equipment) -> tuple[Figure, ...]:
    scale = image_scale(guider.pixel_pitch, guider.focal_length).to_value(u.arcsec / u.pix)
    field = field_of_view(guider.pixel_pitch, guider.columns, guider.rows, guider.focal_length)
    return Figure("Image scale", f"{scale:.2f}″/px"), Figure("Field", _sides(field))


def _rig(rig: Rig, equipment: Equipment) -> tuple[Figure, ...]:
    site = equipment.site()
    found = rig_figures(rig, site)
    pixels = (found.star_fwhm / found.image_scale).to_value(u.pix)
    return (
        Figure("Image scale", f"{found.image_scale.to_value(u.arcsec / u.pix):.2f}″/px"),
        Figure("Field", _sides(found.field)),
        Figure("Focal ratio", f"f/{rig.telescope.focal_ratio:.1f}"),
        Figure("Star", f"{found.star_fwhm.to_value(u.arcsec):.1f}″ = {pixels:.1f} px",
               f'FWHM at the zenith of "{site.name}", no motion'),
        Figure("Refocus after", _kelvin(found.refocus_change.to_value(u.K)),
               "warmer or colder; by the tube's length alone"),
    )


def _kelvin(change: float) -> str:
    return "never" if change == float("inf") else f"{change:.2g} K"


def _sides(field: FieldOfView) -> str:
    width, height = field.width.to_value(u.deg), field.height.to_value(u.deg)
    return f"{width * 60:.0f}′ × {height * 60:.0f}′" if width < 1 else f"{width:.2f}° × {height:.2f}°"


_FIGURES: Mapping[type, Callable[..., tuple[Figure, ...]]] = {
    Site: _site, Telescope: _telescope, Reducer: _reducer, Camera: _camera, Filter: _filter, Mount: _mount,
    Guider: _guider, Rig: _rig,
}
