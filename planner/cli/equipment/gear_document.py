"""The equipment as one document of plain numbers, with the figures that follow from it."""

import dataclasses
import math
from typing import Any

from astropy import units as u

from planner.cli.output import unit_key
from planner.exposure.light.saturation import saturation_limit
from planner.files.equipment.drive_classes import LABEL
from planner.optics.diffraction import airy_fwhm
from planner.optics.field import field_of_view
from planner.optics.image_scale import image_scale
from planner.rig import Camera, Equipment, Guider, HorizonProfile, Mount, Reducer, Rig, Site, Telescope
from planner.session.match.equipment_figures import WAVELENGTH, rig_figures
from planner.tracking.drive import encoder_step


def gear_document(equipment: Equipment) -> dict[str, Any]:
    """Return everything in the equipment by kind, each key ending in its unit, derived figures included."""
    site = equipment.site()
    return {
        "is_demo": equipment.is_demo,
        "sites": [plain_table(item) | _site(item) for item in equipment.sites],
        "telescopes": [plain_table(item) | _telescope(item) for item in equipment.telescopes],
        "reducers": [plain_table(item) | _reducer(item, equipment.telescopes) for item in equipment.reducers],
        "cameras": [plain_table(item) | _camera(item) for item in equipment.cameras],
        "filters": [plain_table(item) for item in equipment.filters],
        "mounts": [plain_table(item) | _mount(item) for item in equipment.mounts],
        "guiders": [plain_table(item) | _guider(item) for item in equipment.guiders],
        "rigs": [plain_table(item) | _rig(item, site) for item in equipment.rigs],
    }


def plain_table(model: Any) -> dict[str, Any]:
    """Return a model's fields as plain values: a quantity under a key that ends in its unit, a part by its name."""
    table: dict[str, Any] = {}
    for item in (item for item in dataclasses.fields(model) if item.name != "errors"):
        value = getattr(model, item.name)
        unit = getattr(item.metadata.get("rule"), "unit", None)
        key = item.name if unit is None else unit_key(item.name, unit)
        table[key] = value.to_value(unit).tolist() if isinstance(value, u.Quantity) else _plain(value)
    for key, error in getattr(model, "errors", {}).items():
        key = f"{key}_standard_error"
        table |= {unit_key(key, error.unit): error.value} if isinstance(error, u.Quantity) else {key: error}
    return table


def _plain(value: Any) -> Any:
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    if dataclasses.is_dataclass(value):
        return value.name if hasattr(value, "name") else plain_table(value)
    return value


def _site(site: Site) -> dict[str, Any]:
    horizon: HorizonProfile | None = site.horizon
    highest = None if horizon is None else float(horizon.altitude.max().to_value(u.deg))
    return {"station_pressure_hPa": float(site.station_pressure.to_value(u.hPa)), "horizon_highest_deg": highest}


def _telescope(telescope: Telescope) -> dict[str, Any]:
    return {
        "focal_ratio": telescope.focal_ratio,
        "collecting_area_cm2": float(telescope.collecting_area.to_value(u.cm**2)),
        "airy_fwhm_arcsec": float(airy_fwhm(WAVELENGTH, telescope.aperture).to_value(u.arcsec)),
    }


def _reducer(reducer: Reducer, telescopes: tuple[Telescope, ...]) -> dict[str, Any]:
    used = [(telescope.name, reducer.behind(telescope)) for telescope in telescopes if reducer.fits(telescope)]
    return {"as_used": [{"telescope": name, "focal_length_mm": float(train.focal_length.to_value(u.mm)),
                         "focal_ratio": train.focal_ratio} for name, train in used]}


def _camera(camera: Camera) -> dict[str, Any]:
    pitch = camera.pixel_pitch.to_value(u.mm)
    return {
        "sensor_mm": [camera.columns * pitch, camera.rows * pitch],
        "megapixels": camera.columns * camera.rows / 1e6,
        "saturation_electron": float(saturation_limit(camera).value),
    }


def _mount(mount: Mount) -> dict[str, Any]:
    step = None if mount.encoder_counts is None else float(encoder_step(mount.encoder_counts).to_value(u.arcsec))
    return {"encoder_step_arcsec": step,
            "periodic_peak_to_peak_at_most_arcsec": float(mount.peak_to_peak.to_value(u.arcsec)),
            "drive_class_note": LABEL if mount.drive_class else None}


def _guider(guider: Guider) -> dict[str, Any]:
    scale = image_scale(guider.pixel_pitch, guider.focal_length).to_value(u.arcsec / u.pix)
    field = field_of_view(guider.pixel_pitch, guider.columns, guider.rows, guider.focal_length)
    return {"image_scale_arcsec_per_pixel": float(scale), "field_deg": _sides(field)}


def _rig(rig: Rig, site: Site) -> dict[str, Any]:
    found = rig_figures(rig, site)
    change = float(found.refocus_change.to_value(u.K))
    return {
        "image_scale_arcsec_per_pixel": float(found.image_scale.to_value(u.arcsec / u.pix)),
        "field_deg": _sides(found.field),
        "focal_ratio": rig.telescope.focal_ratio,
        "star_fwhm_arcsec": float(found.star_fwhm.to_value(u.arcsec)),
        "star_fwhm_pixels": float((found.star_fwhm / found.image_scale).to_value(u.pix)),
        "refocus_change_K": change if math.isfinite(change) else None,
    }


def _sides(field: Any) -> list[float]:
    return [float(field.width.to_value(u.deg)), float(field.height.to_value(u.deg))]
