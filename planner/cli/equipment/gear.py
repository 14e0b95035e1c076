"""`planner gear`: what the observer owns, with the figures that follow from it."""

from collections.abc import Iterable
from typing import Annotated, Any

import typer

from planner.cli.options import EquipmentOption, JsonOption, new_app, open_equipment
from planner.cli.output import print_check, print_json, print_lines, print_table
from planner.files.equipment import check_equipment, equipment_path
from planner.files.equipment.start import equipment_remarks

app = new_app()
Table = dict[str, Any]


@app.command()
def gear(
    check: Annotated[bool, typer.Option("--check", help="Check the file and name every problem in it.")] = False,
    equipment: EquipmentOption = None, json: JsonOption = False,
) -> None:
    """List your equipment with its derived figures, or check the equipment file."""
    if check:
        problems = check_equipment(equipment)
        remarks = [] if problems else equipment_remarks(equipment)
        print_check(equipment_path(equipment), problems, remarks, json, "check")
        return
    from planner.files.equipment.gear_document import gear_document
    from planner.files.equipment.history import origins

    document = gear_document(open_equipment(equipment))
    if json:
        print_json(document)
        return
    for show in (_show_rigs, _show_sites, _show_telescopes, _show_reducers, _show_cameras, _show_filters, _show_mounts,
                 _show_guiders):
        show(document)
    for item in document["mounts"]:
        if item["drive_class"]:
            print_lines(f'Figures of the mount "{item["name"]}": '
                        f"{'; '.join(origins(equipment, 'mount', item['name']))}.")


def _show_rigs(document: Table) -> None:
    site = document["sites"][0]
    rows = [(
        item["name"], item["telescope"], item["camera"], item["mount"], item["guider"] or "none",
        f"{item['image_scale_arcsec_per_pixel']:.2f}″", _field(item), f"f/{item['focal_ratio']:.1f}",
        f"{item['star_fwhm_arcsec']:.1f}″ = {item['star_fwhm_pixels']:.1f} px",
    ) for item in document["rigs"]]
    print_table(f'Rigs (the first is the usual one); stars as at the zenith of "{site["name"]}"',
                ("rig", "telescope", "camera", "mount", "guider", "pixel", "field", "ratio", "star FWHM"), rows,
                right=("pixel", "ratio", "star FWHM"))


def _show_sites(document: Table) -> None:
    rows = [(
        item["name"], f"{item['latitude_deg']:+.3f}°", f"{item['longitude_deg']:+.3f}°", f"{item['height_m']:.0f} m",
        item["time_zone"], f"{item['sky_brightness_mag_per_arcsec2']:.1f}", f"{item['seeing_arcsec']:.1f}″",
        "flat" if item["horizon"] is None else f"to {item['horizon_highest_deg']:.0f}°",
    ) for item in document["sites"]]
    print_table("Sites", ("site", "latitude", "longitude", "height", "time zone", "sky V mag/″²", "seeing", "skyline"),
                rows, right=("latitude", "longitude", "height"))


def _show_telescopes(document: Table) -> None:
    rows = [(
        item["name"], f"{item['aperture_mm']:g} mm", f"{item['focal_length_mm']:g} mm", f"f/{item['focal_ratio']:.1f}",
        f"{100 * item['obstruction']:.0f} %", f"{100 * item['transmission']:.0f} %", f"{item['airy_fwhm_arcsec']:.2f}″",
        f"{item['optical_blur_arcsec']:.1f}″",
    ) for item in document["telescopes"]]
    print_table("Telescopes", ("telescope", "aperture", "focal length", "ratio", "obstruction", "transmission",
                               "diffraction FWHM", "blur FWHM"), rows)


def _show_reducers(document: Table) -> None:
    rows = [(
        item["name"], f"{item['factor']:g}", f"{100 * item['transmission']:.0f} %",
        f"{item['optical_blur_arcsec']:.1f}″",
        "not given" if item["image_circle_mm"] is None else f"{item['image_circle_mm']:g} mm", as_used(item),
    ) for item in document["reducers"]]
    if rows:
        print_table("Reducers and extenders", ("reducer", "factor", "transmission", "adds blur FWHM", "image circle",
                                               "on a telescope"), rows)


def as_used(item: Table) -> str:
    """Return the telescopes behind a reducer with focal length and ratio."""
    return ", ".join(f"{used['telescope']} {used['focal_length_mm']:.0f} mm f/{used['focal_ratio']:.1f}"
                     for used in item["as_used"])


def _show_cameras(document: Table) -> None:
    rows = [(
        item["name"], f"{item['pixel_pitch_um']:g} µm", f"{item['columns']} × {item['rows']}",
        f"{item['sensor_mm'][0]:.1f} × {item['sensor_mm'][1]:.1f}", f"{100 * item['quantum_efficiency']:.0f} %",
        f"{item['read_noise_electron']:g} e", f"{item['saturation_electron']:.0f} e",
        f"{item['dark_current_electron_per_s']:g} e/s", item["colour"],
    ) for item in document["cameras"]]
    print_table("Cameras", ("camera", "pixel", "pixels", "sensor mm", "efficiency", "read noise", "saturates", "dark",
                            "colour"), rows)


def _show_filters(document: Table) -> None:
    def listed(figures: Iterable[float]) -> str:
        return f"{', '.join(f'{figure:.5g}' for figure in figures)} nm"

    rows = [(item["name"], listed((low + high) / 2 for low, high in item["windows_nm"]),
             listed(high - low for low, high in item["windows_nm"]), f"{100 * item['transmission']:.0f} %")
            for item in document["filters"]]
    print_table("Filters", ("filter", "centre", "width", "transmission"), rows)


def _show_mounts(document: Table) -> None:
    rows = [(
        item["name"], f"{item['periodic_peak_to_peak_at_most_arcsec']:.1f}″", f"{item['jitter_arcsec']:g}″",
        f"{item['wander_arcsec_per_sqrt_min']:g}″/√min", f"{item['rate_error_ppm']:g} ppm", item["rate"],
        _axis(item["polar_altitude_error_arcmin"], item["polar_azimuth_error_arcmin"]),
        "none" if item["encoder_step_arcsec"] is None else f"{item['encoder_step_arcsec']:.3f}″",
        item["drive_class"] or "own figures",
    ) for item in document["mounts"]]
    print_table("Mounts", ("mount", "periodic peak to peak", "jitter", "wander", "rate error", "rate",
                           "polar axis alt, az", "encoder step", "figures"), rows)


def _axis(altitude: float | None, azimuth: float | None) -> str:
    return "not given" if altitude is None and azimuth is None else f"{altitude or 0:+g}′ {azimuth or 0:+g}′"


def _show_guiders(document: Table) -> None:
    rows = [(
        item["name"], "off axis" if item["off_axis"] else "own telescope", f"{item['aperture_mm']:g} mm",
        f"{item['focal_length_mm']:g} mm", f"{item['image_scale_arcsec_per_pixel']:.2f}″", _field(item),
        f"{item['differential_flexure_arcsec_per_h']:g}″/h" + _towards(item["differential_flexure_angle_deg"]),
    ) for item in document["guiders"]]
    print_table("Guiders", ("guider", "kind", "aperture", "focal length", "pixel", "field", "differential flexure"),
                rows)


def _towards(angle: float | None) -> str:
    return "" if angle is None else f" towards {angle:.0f}°"


def _field(item: Table) -> str:
    width, height = item["field_deg"]
    if width < 1:
        return f"{width * 60:.0f}′ × {height * 60:.0f}′"
    return f"{width:.2f}° × {height:.2f}°"
