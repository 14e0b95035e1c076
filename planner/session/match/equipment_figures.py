"""What follows from a part of the equipment: the figures beside its form and in `planner gear`, words and numbers."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
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
    """One derived figure: what it is, its value with unit, a remark, and the same as plain values by their keys."""

    label: str
    value: str
    remark: str = ""
    plain: Mapping[str, Any] = field(default_factory=dict)


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


def plain_figures(part: Any, equipment: Equipment) -> dict[str, Any]:
    """Return the derived figures of a part as plain values by keys that end in their unit."""
    return {key: value for one in part_figures(part, equipment) for key, value in one.plain.items()}


def _site(site: Site, _: Equipment) -> tuple[Figure, ...]:
    pressure = float(site.station_pressure.to_value(u.hPa))
    highest = None if site.horizon is None else float(site.horizon.altitude.max().to_value(u.deg))
    return (Figure("Air pressure", f"{pressure:.0f} hPa",
                   "as given" if site.pressure is not None else "standard for the height",
                   {"station_pressure_hPa": pressure}),
            Figure("Skyline", "flat" if highest is None else f"up to {highest:.0f}°",
                   plain={"horizon_highest_deg": highest}))


def _telescope(telescope: Telescope, equipment: Equipment) -> tuple[Figure, ...]:
    area = float(telescope.collecting_area.to_value(u.cm**2))
    airy = float(airy_fwhm(WAVELENGTH, telescope.aperture).to_value(u.arcsec))
    return (
        _focal_ratio(telescope),
        Figure("Collecting area", f"{area:.0f} cm²", "without the obstruction", {"collecting_area_cm2": area}),
        Figure("Diffraction", f"{airy:.2f}″", "FWHM at 500 nm", {"airy_fwhm_arcsec": airy}),
        _refocus(refocus_change(telescope, equipment.site())))


def _focal_ratio(telescope: Telescope) -> Figure:
    return Figure("Focal ratio", f"f/{telescope.focal_ratio:.1f}", plain={"focal_ratio": telescope.focal_ratio})


def _refocus(change: u.Quantity[u.K], key: str | None = None) -> Figure:
    kelvin = float(change.to_value(u.K))
    known = None if kelvin == float("inf") else kelvin
    return Figure("Refocus after", "never" if known is None else f"{known:.2g} K",
                  "warmer or colder; by the tube's length alone", {} if key is None else {key: known})


def _reducer(reducer: Reducer, equipment: Equipment) -> tuple[Figure, ...]:
    trains = [(item.name, reducer.behind(item)) for item in equipment.telescopes if reducer.fits(item)]
    return tuple(Figure(f"Behind {name}", f"{train.focal_length.to_value(u.mm):.0f} mm", f"f/{train.focal_ratio:.1f}")
                 for name, train in trains)


def _camera(camera: Camera, _: Equipment) -> tuple[Figure, ...]:
    pitch = camera.pixel_pitch.to_value(u.mm)
    width, height, millions = camera.columns * pitch, camera.rows * pitch, camera.columns * camera.rows / 1e6
    limit = saturation_limit(camera)
    return (
        Figure("Sensor", f"{width:.1f} × {height:.1f} mm", plain={"sensor_mm": [width, height]}),
        Figure("Pixels", f"{millions:.1f} million", plain={"megapixels": millions}),
        Figure("Saturates at", f"{limit.value:.0f} e",
               "the full well" if limit == camera.full_well else "the end of the converter",
               {"saturation_electron": float(limit.value)}),
    )


def _filter(band: Filter, _: Equipment) -> tuple[Figure, ...]:
    windows = band.windows.to_value(u.nm).tolist()
    return (Figure("Passes", ", ".join(f"{low:.0f} to {high:.0f} nm" for low, high in windows),
                   plain={"windows_nm": windows}),)


def _mount(mount: Mount, _: Equipment) -> tuple[Figure, ...]:
    step = None if mount.encoder_counts is None else float(encoder_step(mount.encoder_counts).to_value(u.arcsec))
    span = float(mount.peak_to_peak.to_value(u.arcsec))
    return (
        Figure("Periodic error", f"{span:.1f}″",
               "peak to peak on the equator, all terms at their crest together",
               {"periodic_peak_to_peak_at_most_arcsec": span}),
        Figure("Encoder step", "none" if step is None else f"{step:.3f}″", plain={"encoder_step_arcsec": step}),
        Figure("Drive class", mount.drive_class or "none", "for what the table lacks" if mount.drive_class else ""),
    )


def _guider(guider: Guider, _: Equipment) -> tuple[Figure, ...]:
    return (_scale(image_scale(guider.pixel_pitch, guider.focal_length)),
            _field(field_of_view(guider.pixel_pitch, guider.columns, guider.rows, guider.focal_length)))


def _rig(rig: Rig, equipment: Equipment) -> tuple[Figure, ...]:
    site = equipment.site()
    found = rig_figures(rig, site)
    width, pixels = (float(found.star_fwhm.to_value(u.arcsec)),
                     float((found.star_fwhm / found.image_scale).to_value(u.pix)))
    return (
        _scale(found.image_scale), _field(found.field), _focal_ratio(rig.telescope),
        Figure("Star", f"{width:.1f}″ = {pixels:.1f} px", f'FWHM at the zenith of "{site.name}", no motion',
               {"star_fwhm_arcsec": width, "star_fwhm_pixels": pixels}),
        _refocus(found.refocus_change, "refocus_change_K"))


def _scale(scale: u.Quantity) -> Figure:
    arcsec = float(scale.to_value(u.arcsec / u.pix))
    return Figure("Image scale", f"{arcsec:.2f}″/px", plain={"image_scale_arcsec_per_pixel": arcsec})


def _field(seen: FieldOfView) -> Figure:
    width, height = float(seen.width.to_value(u.deg)), float(seen.height.to_value(u.deg))
    words = f"{width * 60:.0f}′ × {height * 60:.0f}′" if width < 1 else f"{width:.2f}° × {height:.2f}°"
    return Figure("Field", words, plain={"field_deg": [width, height]})


_FIGURES: Mapping[type, Callable[..., tuple[Figure, ...]]] = {
    Site: _site, Telescope: _telescope, Reducer: _reducer, Camera: _camera, Filter: _filter, Mount: _mount,
    Guider: _guider, Rig: _rig,
}
