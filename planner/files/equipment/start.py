"""The observer's own files: begun from commented starting files or the demo, and what in them is still the example."""

import dataclasses
import datetime
import tomllib
from pathlib import Path
from typing import Any

from planner.checks import not_one_of
from planner.files.equipment import equipment_path, load_equipment, user_equipment_path
from planner.files.equipment.load import WHAT
from planner.files.equipment.tables import rules_of
from planner.files.own_files import own_path, packaged_data
from planner.files.pier.load import LISTS, SINGLES
from planner.files.reading import is_there, read_text
from planner.files.toml_tables import tables_of
from planner.files.writing import write_new
from planner.rig import clock_problem

PIER_HEAD = """\
# Your pier. Origin: starting file written by "planner pier init"; every figure in it is an example: replace it.
# Take out the tables that you do not want to know about. "planner pier check" names every mistake in it.
# Hold tube and weights before a clutch is opened; local codes and licensed trades decide on concrete and wiring.
"""
MORE_KEYS = "# Further keys of each table, with what holds where they are left out:"
KINDS = ("equipment", "pier", "projects", "targets")
OWN = {"equipment": "equipment.toml", "pier": "pier.toml", "projects": "projects.toml", "targets": "targets.csv"}
STARTERS = {"equipment": "starter.toml", "pier": "pier.toml", "projects": "starter_projects.toml",
            "targets": "starter_targets.csv"}
REMARK = "as in the starting file: an example, unless it happens to be yours."
# Figures that differ from observer to observer; one that stands as in the starting file was likely left there.
OWN_FIGURES = {
    "site": ("latitude", "longitude"), "telescope": ("aperture", "focal_length"),
    "camera": ("pixel_pitch", "columns", "rows", "quantum_efficiency", "read_noise", "full_well", "gain"),
    "guider": ("aperture", "focal_length", "pixel_pitch", "columns", "rows"),
}


def begin_file(kind: str, path: Path | str | None = None) -> Path:
    """Write one of the observer's files to start from and return its path; one that is there is never touched.

    `kind`: one of `KINDS`. `path`: where to write; None for the folder of the user's settings.
    Raises InvalidInputError if there is no such kind, something is at that path already, or it cannot be written.
    """
    if kind not in KINDS:
        raise not_one_of("kind of file", kind, KINDS)
    used = own_path(OWN[kind]) if path is None else Path(path).expanduser()
    text = packaged_data(STARTERS[kind]).read_text(encoding="utf-8")
    if kind == "pier":  # the demo's figures under a head of their own
        text = f"{PIER_HEAD}{text[text.index(chr(10) * 2):].rstrip()}\n\n{_further_keys(text)}"
    write_new(used, text, what=f"{kind} file", remedy="Edit it, or give another path.",
              folders=used == own_path(OWN[kind]))
    return used


def _further_keys(text: str) -> str:
    """Return a comment on every key of a pier file that a text does not write: unit, meaning, what holds without it."""
    written, lines = tomllib.loads(text), [MORE_KEYS]
    for kind, model in {**SINGLES, **LISTS}.items():
        used = {key for table in tables_of(written, kind) for key in table}
        rules = rules_of(model)
        keys = [(item, rules[item.name]) for item in dataclasses.fields(model) if item.name in rules]
        lines += ["#", f"# [[{kind}]]" if kind in LISTS else f"# [{kind}]"]
        lines += [": ".join(filter(None, (f"#   {item.name}{_without(item)}", rule.meaning or ", ".join(rule.choices))))
                  for item, rule in keys if item.name not in used and item.name != "is_demo"]
        if lines[-1].endswith("]"):
            del lines[-2:]
    return "\n".join(lines) + "\n"


def _without(item: "dataclasses.Field[Any]") -> str:
    """Return what holds where a key is left out, as it would be written."""
    rule = item.metadata["rule"]
    value = item.default_factory() if item.default_factory is not dataclasses.MISSING else item.default
    if value is None or value is dataclasses.MISSING:
        return f" ({rule.unit})" if rule.unit is not None else ""
    text = f"{value.value:g} {rule.unit}" if rule.kind == "quantity" else str(value)
    return f" = {text.lower()}" if rule.kind in ("truth", "number", "whole") else f' = "{text}"'


def begin_equipment(path: Path | str | None = None, *, copy_of_demo: bool = False) -> Path:
    """Write an equipment file to start from and return its path; one that is there is never touched.

    `path`: where to write; None for the folder of the user's settings. `copy_of_demo`: whether to start from the
    packaged demo, its horizon files beside it, instead of the commented example.
    Raises InvalidInputError if something is at that path already, or it cannot be written.
    """
    if not copy_of_demo:
        return begin_file("equipment", path)
    used = user_equipment_path() if path is None else Path(path).expanduser()
    write_new(used, packaged_data("equipment.toml").read_text(encoding="utf-8"), what=WHAT,
              remedy="Edit it, or give another path with --equipment.")
    _copy_horizons(used)
    load_equipment(used)
    return used


def _copy_horizons(equipment: Path) -> None:
    """Copy the horizon files that the demo names beside the equipment file, unless they are there."""
    for site in tomllib.loads(packaged_data("equipment.toml").read_text(encoding="utf-8"))["site"]:
        name = site.get("horizon")
        if name and not is_there(equipment.with_name(name)):
            write_new(equipment.with_name(name), packaged_data(name).read_text(encoding="utf-8"), what="horizon",
                      remedy="Move it away first.")


def equipment_remarks(path: Path | str | None = None) -> list[str]:
    """Return what is odd about an equipment file without problems, a sentence each; nothing about the demo."""
    owned = load_equipment(path)
    if owned.is_demo:
        return []
    now = datetime.datetime.now(datetime.UTC)
    clocks = [problem for site in owned.sites if (problem := clock_problem(site, now))]
    heavy = [f'rig "{rig.name}": {rig.too_heavy}.' for rig in owned.rigs if rig.too_heavy]
    return clocks + heavy + [f"{label}: {', '.join(left)} {'is' if len(left) == 1 else 'are'} {REMARK}"
                     for label, _, left in _examples(path)]


def all_examples(path: Path | str | None = None) -> list[str]:
    """Return the tables of an equipment file with the starting file's name and own figures still; none of the demo.

    A name of the observer's own says that the figures are, too.
    """
    return [label for label, kind, left in _examples(path)
            if left == list(OWN_FIGURES[kind]) and label == f'{kind} "{tables_of(_starter(), kind)[0]["name"]}"']


def _examples(path: Path | str | None) -> list[tuple[str, str, list[str]]]:
    """Return each table that holds figures of the starting file: what to call it, its kind, their keys."""
    used = equipment_path(path)
    if used == packaged_data("equipment.toml"):
        return []
    starter, document = _starter(), tomllib.loads(read_text(used, what=WHAT))
    found = []
    for kind, keys in OWN_FIGURES.items():
        example = tables_of(starter, kind)[0]
        for table in tables_of(document, kind):
            found.append((f'{kind} "{table["name"]}"', kind, [key for key in keys if table.get(key) == example[key]]))
    return [one for one in found if one[2]]


def _starter() -> dict[str, Any]:
    """Return the starting file's tables, those in comments too."""
    return tomllib.loads(packaged_data("starter.toml").read_text(encoding="utf-8").replace("\n## ", "\n"))
