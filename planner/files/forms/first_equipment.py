"""A first site and a first rig from the answers to a few questions, written as an equipment file or added to one.

Answers are texts by the key of their question, as a form holds them. What is typed is read as people type it; what is
picked by words stands for the figures of `usual_figures`. An empty answer is a missing one: no example ever counts.
"""

import dataclasses
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from planner.errors import InvalidInputError
from planner.files.angles import typed_angle
from planner.files.equipment import equipment_path, user_equipment_path
from planner.files.equipment.load import WHAT, refuse_problems
from planner.files.equipment.tables import rules_of
from planner.files.forms.typed import typed_number
from planner.files.forms.usual_figures import (
    AXES,
    CREEP,
    DRIVES,
    FILTERS,
    GUIDE_SENSOR,
    GUIDE_TELESCOPE,
    GUIDERS,
    LABEL,
    NO_GUIDER,
    PICK_OFF,
    SEEINGS,
    SENSORS,
    SKIES,
    TELESCOPES,
)
from planner.files.quantities import unit_text
from planner.files.reading import is_there
from planner.files.toml_tables import BY_WORDS
from planner.files.writing import rewrite, write_new
from planner.rig import Camera, Guider, HorizonProfile, Site, Telescope

TYPED: Mapping[str, tuple[type[Any], str]] = {  # model and key of what is typed as a number, in the rule's unit
    "height": (Site, "height"), "aperture": (Telescope, "aperture"), "focal_length": (Telescope, "focal_length"),
    "pixel_pitch": (Camera, "pixel_pitch"), "columns": (Camera, "columns"), "rows": (Camera, "rows"),
    "guide_aperture": (Guider, "aperture"), "guide_focal_length": (Guider, "focal_length"),
    "guide_pixel_pitch": (Guider, "pixel_pitch"),
}
PICKED: Mapping[str, Iterable[str]] = {
    "sky": SKIES, "seeing": SEEINGS, "telescope": TELESCOPES, "sensor": SENSORS, "colour": ("mono", "colour"),
    "filters": FILTERS, "drive": DRIVES, "axis": AXES, "guider": GUIDERS,
}
ORDER = ("latitude", "longitude", "height", "time_zone", "sky", "seeing", "telescope", "aperture", "focal_length",
         "colour", "sensor", "pixel_pitch", "columns", "rows", "filters", "drive", "axis", "guider")
GUIDE_QUESTIONS = {NO_GUIDER: (), GUIDE_TELESCOPE: ("guide_aperture", "guide_focal_length", "guide_pixel_pitch"),
                   PICK_OFF: ("guide_pixel_pitch",)}
HEAD = """\
# Your equipment. Origin: your answers to the guided set-up. What you picked by words stands here with the figures that
# such words commonly mean (common practice, no source): replace them by your own, best by measured ones.
"""


@dataclasses.dataclass(frozen=True)
class Answered:
    """What the answers hold: values by key, what is wrong with some, and which questions are open."""

    values: Mapping[str, Any]
    problems: Mapping[str, InvalidInputError]
    missing: tuple[str, ...]
    asked: tuple[str, ...]


def time_zone_of(latitude_deg: float, longitude_deg: float) -> str:
    """Return the name of the time zone of a place, by the map that comes with the program."""
    import tzfpy

    return str(tzfpy.get_tz(longitude_deg, latitude_deg))


def read_answers(answers: Mapping[str, str]) -> Answered:
    """Return what the answers hold; several filters are parted by semicolons."""
    asked = (*ORDER, *GUIDE_QUESTIONS.get(answers.get("guider", ""), ()))
    values: dict[str, Any] = {}
    problems: dict[str, InvalidInputError] = {}
    for key in asked:
        text = answers.get(key, "").strip()
        if text:
            try:
                values[key] = _read(key, text)
            except InvalidInputError as error:
                problems[key] = InvalidInputError(key, error.value, error.rule, error.remedy)
    missing = tuple(key for key in asked if not answers.get(key, "").strip())
    return Answered(values, problems, missing, asked)


def write_first(path: Path | None, answers: Mapping[str, str], horizon: HorizonProfile | None = None
                ) -> tuple[Path, str, str]:
    """Write what the answers describe and return the file's path and the names of the new rig and site.

    `path`: the equipment file; None for the user's own. One that is there keeps all it has and gets the new tables.
    `horizon`: written as a file beside it.
    Raises InvalidInputError with the first answer that is missing or wrong, or the first rule that they break
    together. Nothing is written.
    """
    found = read_answers(answers)
    if found.problems:
        raise next(iter(found.problems.values()))
    if found.missing:
        raise InvalidInputError(found.missing[0], "(missing)", "must be given", "")
    used = user_equipment_path() if path is None else path
    old = "" if not is_there(used) else used.read_text(encoding="utf-8-sig")
    taken = _names(old)
    tables = _tables(found.values, taken)
    skyline = None if horizon is None else used.with_name(_free(used, tables["site"]["name"]))
    if skyline is not None:
        tables["site"]["horizon"] = skyline.name
    refuse_problems(old + _toml(tables, horizon=False), used)
    if skyline is not None and horizon is not None:
        write_new(skyline, _horizon_text(horizon), what="horizon file", remedy="Move it away first.")
    if old:
        rewrite(used, lambda text: f"{text.rstrip()}\n\n{_toml(tables)}", what=WHAT)
    else:
        write_new(used, f"{HEAD}\n{_toml(tables)}", what=WHAT, remedy="Try again.")
    return equipment_path(used), tables["rig"]["name"], tables["site"]["name"]


def _read(key: str, text: str) -> Any:
    if key in ("latitude", "longitude"):
        return typed_angle(key, text)
    if key in TYPED:
        rule = rules_of(TYPED[key][0])[TYPED[key][1]]
        bare = dataclasses.replace(rule, unit=None, kind="whole" if rule.kind == "whole" else "number")
        return typed_number(f"{key} ({unit_text(rule.unit)})" if rule.unit else key, text, bare)
    if key == "filters":
        return [_one_of(key, one.strip()) for one in text.split(";") if one.strip()]
    return _one_of(key, text) if key in PICKED else text


def _one_of(key: str, text: str) -> str:
    if text not in PICKED[key]:
        raise InvalidInputError(key, text, f"must be one of {', '.join(PICKED[key])}", "Choose one.")
    return text


def _tables(values: Mapping[str, Any], taken: Mapping[str, set[str]]) -> dict[str, Any]:
    """Return the tables of the equipment file by kind; the filters are a list of them."""
    def name(kind: str, usual: str) -> str:
        names = (usual, *(f"{usual} {number}" for number in range(2, 1000)))
        return next(one for one in names if one.lower() not in taken.get(kind, set()))

    site = {"name": name("site", "home"), "latitude": f"{values['latitude']:.6g} deg",
            "longitude": f"{values['longitude']:.7g} deg", "height": f"{values['height']:g} m",
            "time_zone": values["time_zone"], "sky_brightness": f"{SKIES[values['sky']]:g} mag/arcsec2",
            "seeing": f"{SEEINGS[values['seeing']]:g} arcsec"}
    telescope = {"name": name("telescope", "telescope"), "aperture": f"{values['aperture']:g} mm",
                 "focal_length": f"{values['focal_length']:g} mm", **TELESCOPES[values["telescope"]]}
    camera = {"name": name("camera", "camera"), "pixel_pitch": f"{values['pixel_pitch']:g} um",
              "columns": int(values["columns"]), "rows": int(values["rows"]),
              "colour": "bayer" if values["colour"] == "colour" else "mono", **SENSORS[values["sensor"]]}
    axis = f"{AXES[values['axis']]:g} arcmin"
    mount = {"name": name("mount", "mount"), "drive_class": values["drive"], "polar_altitude_error": axis,
             "polar_azimuth_error": axis}
    filters = [{"name": FILTERS[one][0], "centre": f"{FILTERS[one][1]:g} nm", "width": f"{FILTERS[one][2]:g} nm"}
               for one in values["filters"]]
    guider = _guider(values, name("guider", "guider"))
    rig = {"name": name("rig", "main"), "telescope": telescope["name"], "camera": camera["name"],
           "mount": mount["name"], **({"guider": guider["name"]} if guider else {}),
           "filters": [one["name"] for one in filters]}
    new_filters = [one for one in filters if one["name"].lower() not in taken.get("filter", set())]
    return {"site": site, "telescope": telescope, "camera": camera, "filter": new_filters, "mount": mount,
            "guider": guider, "rig": rig}


def _guider(values: Mapping[str, Any], name: str) -> dict[str, Any] | None:
    """Return the guider's table; a pick-off looks through the telescope."""
    kind = values["guider"]
    if kind == NO_GUIDER:
        return None
    start = "guide_" if kind == GUIDE_TELESCOPE else ""
    return {"name": name, "aperture": f"{values[f'{start}aperture']:g} mm",
            "focal_length": f"{values[f'{start}focal_length']:g} mm",
            "pixel_pitch": f"{values['guide_pixel_pitch']:g} um", **GUIDE_SENSOR,
            "differential_flexure": CREEP[kind], **({"off_axis": True} if kind == PICK_OFF else {})}


def _toml(tables: Mapping[str, Any], *, horizon: bool = True) -> str:
    """Return the tables as TOML, each under its header."""
    import tomlkit

    parts = []
    for kind, table in tables.items():
        for one in table if isinstance(table, list) else [table] if table else []:
            written = {key: value for key, value in one.items() if horizon or key != "horizon"}
            note = f"  # {BY_WORDS}: {LABEL}" if kind in ("site", "telescope", "camera", "mount") else ""
            parts.append(f"[[{kind}]]{note}\n{tomlkit.dumps(written)}")
    return "\n".join(parts)


def _names(text: str) -> dict[str, set[str]]:
    """Return the names that an equipment file has given already, in small letters, by kind of table."""
    import tomllib

    try:
        document = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return {}
    return {kind: {str(table.get("name", "")).strip().lower() for table in tables if isinstance(table, dict)}
            for kind, tables in document.items() if isinstance(tables, list)}


def _free(equipment: Path, site: str) -> str:
    """Return a name for a horizon file that is not there yet."""
    start = f"horizon_{site.replace(' ', '_')}"
    names = (f"{start}.csv", *(f"{start}_{number}.csv" for number in range(2, 1000)))
    return next(name for name in names if not is_there(equipment.with_name(name)))


def _horizon_text(horizon: HorizonProfile) -> str:
    rows = zip(horizon.azimuth.value, horizon.altitude.value, strict=True)
    return "# azimuth (deg, from north through east), altitude (deg)\n" + "".join(
        f"{azimuth:g}, {altitude:g}\n" for azimuth, altitude in rows)
