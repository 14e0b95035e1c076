"""One table of the equipment file into one model: every key checked, every problem kept.

The rule of a key is the one in the metadata of the model's field, so a key is described in one place.
"""

import dataclasses
import json
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from planner.checks import Rule, as_far_as_known, check, did_you_mean
from planner.errors import InvalidInputError
from planner.files.equipment.drive_classes import DRIVE_CLASSES, LABEL
from planner.files.equipment.horizon import read_horizon
from planner.files.quantities import parse_quantity, split_error, unit_text, with_curve, written_value
from planner.rig import Camera, Filter, Guider, Mount, PeriodicTerm, Reducer, Rig, Site, Telescope

# A table that names others stands behind them.
KINDS: Mapping[str, type[Any]] = {
    "site": Site, "telescope": Telescope, "reducer": Reducer, "camera": Camera, "filter": Filter, "mount": Mount,
    "guider": Guider, "rig": Rig,
}
REFERENCES = ("telescope", "camera", "mount", "guider", "reducer")
FORMER_KEYS: Mapping[str, str] = {"settle": "settling_time", "dither_every": "dither_interval"}
# Keys whose value is neither a number, a quantity nor a text of its own.
SPECIAL = {"site": ("horizon",), "mount": ("periodic",), "reducer": ("telescopes",), "rig": (*REFERENCES, "filters")}


@dataclasses.dataclass
class Reading:
    """What has been read so far: the models by kind and lower-case name (None: broken), and the problems."""

    file: str
    folder: Path
    models: dict[str, dict[str, Any]] = dataclasses.field(default_factory=lambda: {kind: {} for kind in KINDS})
    problems: list[InvalidInputError] = dataclasses.field(default_factory=list)
    sway_of: Callable[[Path], dict[str, Any]] = lambda path: {}  # what a pier file does to a rig on it

    def problem(self, label: str, value: Any, rule: str, remedy: str = "") -> None:
        """Keep one problem; `label` names table and key."""
        place, rule, remedy = (" ".join(text.split()) for text in (f"{self.file}: {label}", rule, remedy))
        self.problems.append(InvalidInputError(place, as_written(value), rule, remedy))


class Words(str):
    """Words about a value that was not written as one, printed without quotes."""

    __slots__ = ()


MISSING = Words("(missing)")


def as_written(value: Any) -> str:
    """Return a value of the file about as it was written there."""
    if isinstance(value, str) and not isinstance(value, Words) and value != MISSING:
        return json.dumps(value, ensure_ascii=False)
    return str(value).lower() if isinstance(value, bool) else str(value)


def read_table(reading: Reading, kind: str, place: int, table: Any) -> None:
    """Add the model of one table to the reading, or None in its place with the problems."""
    if not isinstance(table, dict):
        reading.problem(kind, table, "must be a table", f"Start it with a line [[{kind}]].")
        return
    name = table.get("name")
    key = name.strip().lower() if isinstance(name, str) and name.strip() else f"\0{place}"
    label = f"{kind} number {place}" if key.startswith("\0") else f'{kind} "{name}"'
    count = len(reading.problems)
    if key in reading.models[kind]:
        reading.problem(f"{label}.name", name, "is given twice", f"Give each {kind} a name of its own.")
    values = read_values(reading, kind, label, KINDS[kind], table)
    if len(reading.problems) == count:
        reading.models[kind][key] = KINDS[kind](**values) if values is not None else None
    else:
        reading.models[kind].setdefault(key, None)


def read_values(reading: Reading, kind: str, label: str, model: type[Any], table: dict[str, Any], *, whole: bool = True
                ) -> dict[str, Any] | None:
    """Return the values of a table by key, None in place of each that is bad, and keep every problem of the table.

    None for all of them if it rests on a table that is itself broken; not `whole` if other tables complete its model.
    """
    rules = rules_of(model, SPECIAL.get(kind, ()))
    table = _with_drive_class(reading, label, table) if kind == "mount" else table
    bare, curve = _without_curve(reading, kind, label, table)
    for key in (key for key in bare if key not in rules):
        reading.problem(f"{label}.{key}", bare[key], "is not a key of this table",
                        f"Write {FORMER_KEYS[key]} instead." if key in FORMER_KEYS else did_you_mean(key, rules))
    missing = [item.name for item in dataclasses.fields(model) if item.default is dataclasses.MISSING
               and item.default_factory is dataclasses.MISSING and item.name not in bare]
    for key in missing:
        reading.problem(f"{label}.{key}", MISSING, "must be given", rules[key].remedy)
    bare, errors = _without_errors(reading, label, bare, rules)
    values = {key: None if bare[key] is None else _value(reading, f"{label}.{key}", kind, key, bare[key], rules[key])
              for key in rules if key in bare}
    told = [*missing, *(key for key, value in values.items() if value is None)]
    for fault in as_far_as_known(model, values).faults() if whole else ():
        if fault.name not in told:
            reading.problem(f"{label}.{fault.name}", table.get(fault.name, MISSING), fault.rule, fault.remedy)
    values |= ({"errors": errors} if errors else {}) | curve
    if kind != "rig":
        return values
    broken = any(values.get(key, "") is None for key in REFERENCES)
    return None if broken else _behind_the_reducer(reading, label, _on_its_pier(reading, label, values))


def _on_its_pier(reading: Reading, label: str, values: dict[str, Any]) -> dict[str, Any]:
    """Return the values of a rig with the sway of the pier file that they name, where they do not give their own."""
    if values.get("pier") is None:
        return values
    try:
        worked_out = reading.sway_of(reading.folder / Path(values["pier"]).expanduser())
        return {**worked_out, **values, "sway_from": None if "sway" in values else values["pier"]}
    except InvalidInputError as error:
        reading.problem(f"{label}.pier", values["pier"], f"{error.name} = {error.value}: {error.rule}", error.remedy)
        return values


def _without_curve(reading: Reading, kind: str, label: str, table: dict[str, Any]
                   ) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return a table as `with_curve` does; None stands for a curve that is bad."""
    try:
        return with_curve(kind, table)
    except InvalidInputError as error:
        reading.problem(f"{label}.{error.name}", error.value, error.rule, error.remedy)
        follow = ("centre", "width") if kind == "filter" else ()
        return {**dict.fromkeys(follow), **table, error.name: None}, {}


def _without_errors(reading: Reading, label: str, table: dict[str, Any], rules: Mapping[str, Rule]
                    ) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return a table without the standard errors that its figures carry, and these by key."""
    bare, errors = dict(table), {}
    for key in (key for key in table if key in rules and rules[key].kind in ("quantity", "number")):
        if isinstance(table[key], str):
            bare[key], written = split_error(table[key])
            try:
                if written is not None:
                    bare[key], errors[key] = error_of(key, bare[key], written, rules[key])
            except InvalidInputError as error:
                reading.problem(f"{label}.{key}", table[key], error.rule, error.remedy)
                bare[key] = None
    return bare, errors


def error_of(key: str, text: str, written: str, rule: Rule) -> tuple[Any, Any]:
    """Return a figure as the file would have it without an error, and the error in the rule's unit."""
    remedy = f'Write it like "{f"0.25 ± 0.05 {unit_text(rule.unit)}".strip()}".'
    limits = Rule(unit=rule.unit, kind=rule.kind, at_least=0, remedy=remedy)
    if rule.kind == "quantity":
        return text, check("standard error", parse_quantity(key, written, limits), limits)
    try:
        return float(text), check("standard error", float(written), limits)
    except ValueError:
        raise InvalidInputError(key, text, "must be a number ± its standard error", remedy) from None


def _behind_the_reducer(reading: Reading, label: str, values: dict[str, Any]) -> dict[str, Any]:
    """Return the values of a rig with the telescope as it works behind the reducer that they name."""
    reducer, telescope = values.get("reducer"), values.get("telescope")
    if reducer is None or telescope is None:
        return values
    if not reducer.fits(telescope):
        fitting = ", ".join(item.name for item in reducer.telescopes)
        reading.problem(f"{label}.reducer", reducer.name, f"does not go onto the telescope {telescope.name}",
                        f"It goes onto: {fitting}. Name another, or add this one to its telescopes.")
    return {**values, "telescope": reducer.behind(telescope)}


def rules_of(model: type[Any], special: tuple[str, ...] = ()) -> dict[str, Rule]:
    """Return the rule of every key that a table of this model may hold."""
    rules = {item.name: item.metadata["rule"] for item in dataclasses.fields(model) if "rule" in item.metadata}
    return {key: rule for key, rule in rules.items() if rule.kind != "other" or key in special}


def _value(reading: Reading, label: str, kind: str, key: str, value: Any, rule: Rule) -> Any:
    """Return one value checked by its rule; a problem is kept and gives None."""
    if kind == "site" and key == "horizon":
        return _horizon(reading, label, value)
    if kind == "mount" and key == "periodic":
        return _periodic(reading, label, value)
    if kind == "rig" and key in REFERENCES:
        return _named(reading, label, key, value)
    if kind == "rig" and key == "filters":
        return _all_named(reading, label, "filter", value, '["L", "R"]')
    if kind == "reducer" and key == "telescopes":
        return _all_named(reading, label, "telescope", value, '["long"]')
    try:
        return written_value(key, value, rule)
    except InvalidInputError as error:
        reading.problem(label, value, error.rule, error.remedy)
        return None


def _with_drive_class(reading: Reading, label: str, table: dict[str, Any]) -> dict[str, Any]:
    """Return the mount's table with the values of its drive class under its own keys."""
    drive_class = table.get("drive_class")
    if drive_class is None:
        return table
    if not isinstance(drive_class, str) or drive_class.strip().lower() not in DRIVE_CLASSES:
        reading.problem(f"{label}.drive_class", drive_class, "is not a generic drive class",
                        f"There are: {', '.join(DRIVE_CLASSES)} ({LABEL}).")
        return {key: value for key, value in table.items() if key != "drive_class"}
    return {**DRIVE_CLASSES[drive_class.strip().lower()], **table}


def _horizon(reading: Reading, label: str, value: Any) -> Any:
    if not isinstance(value, str) or not value.strip():
        reading.problem(label, value, "must be the name of a file", 'Write it like horizon = "horizon.csv".')
        return None
    try:
        return read_horizon(reading.folder / Path(value).expanduser())
    except InvalidInputError as error:
        reading.problem(label, value, f"{error.name} = {error.value}: {error.rule}", error.remedy)
        return None


def _periodic(reading: Reading, label: str, value: Any) -> tuple[PeriodicTerm, ...]:
    if not isinstance(value, list) or not all(isinstance(term, dict) for term in value):
        reading.problem(label, value, "must be a list of periodic terms",
                        'Write it like [{period = "501 s", amplitude = "4 arcsec"}].')
        return ()
    terms = []
    for place, term in enumerate(value, start=1):
        count = len(reading.problems)
        values = read_values(reading, "periodic", f"{label}[{place}]", PeriodicTerm, term)
        if values is not None and len(reading.problems) == count:
            terms.append(PeriodicTerm(**values))
    return tuple(terms)


def _named(reading: Reading, label: str, kind: str, value: Any) -> Any:
    """Return the model that a table names, None if it is broken or unknown."""
    there = reading.models[kind]
    if isinstance(value, str) and value.strip().lower() in there:
        return there[value.strip().lower()]
    names = [model.name for model in there.values() if model is not None]
    reading.problem(label, value, f"names no [[{kind}]] of this file", did_you_mean(str(value), names))
    return None


def _all_named(reading: Reading, label: str, kind: str, value: Any, example: str) -> tuple[Any, ...] | None:
    """Return the models of one kind that a list names, the broken ones left out; None if one is unknown."""
    if not isinstance(value, list):
        reading.problem(label, value, f"must be a list of {kind} names", f"Write it like {example}.")
        return None
    count = len(reading.problems)
    found = [_named(reading, label, kind, name) for name in value]
    return None if len(reading.problems) > count else tuple(item for item in found if item is not None)
