"""What if: single figures of the equipment set to another value, as in ``mount.polar_altitude_error=1arcmin``."""

import contextlib
import dataclasses
from collections.abc import Sequence
from typing import Any

from astropy import units as u

from planner.checks import Rule, did_you_mean
from planner.errors import InvalidInputError
from planner.files.equipment.tables import KINDS, error_of, rules_of
from planner.files.quantities import parse_option, split_error, with_unit, written_value
from planner.rig import Filter, Rig, Site
from planner.session.advice.what_if import WhatIf, present_figures, with_figures

PERIODIC = "periodic_error"
PEAK_TO_PEAK = Rule(unit=u.arcsec, at_least=0, at_most=7200, remedy="Give it peak to peak, all terms together.")
PARTS = ("site", "telescope", "camera", "mount", "guider", "filter", "rig")
OPTION = "--set"


def with_changes(rig: Rig, site: Site, band: Filter, changes: Sequence[str]) -> tuple[Rig, Site, Filter]:
    """Return rig, site and filter with figures set to other values.

    `band`: the one in use; ``filter.width=7nm`` changes it. `changes`: each ``table.key=value``, with the tables, keys
    and units of the equipment file; a bare number is in the key's usual unit. A telescope is the one as it works,
    reducer included. ``mount.periodic_error=5arcsec`` is peak to peak: every periodic term grows by one factor.
    Raises InvalidInputError if it names no figure, or the value breaks its rule.
    """
    for change in changes:
        rig, site, band = _changed(rig, site, band, change)
    return rig, site, band


def _changed(rig: Rig, site: Site, band: Filter, change: str) -> tuple[Rig, Site, Filter]:
    name, equals, text = change.partition("=")
    part, dot, key = (word.strip() for word in name.partition("."))
    if not (equals and dot and text.strip()):
        raise InvalidInputError(OPTION, change, "must be a table, a key and a value",
                                "Write it like mount.polar_altitude_error=1arcmin.")
    if part not in PARTS:
        raise InvalidInputError(OPTION, change, f"{part} is no table of a rig or a site", did_you_mean(part, PARTS))
    old: Any = {"site": site, "rig": rig, "filter": band}.get(part) or getattr(rig, part, None)
    if old is None:
        raise InvalidInputError(OPTION, change, f'the rig "{rig.name}" has no {part}', "Name a rig that has one.")
    rules = {item: rule for item, rule in rules_of(KINDS[part]).items() if item not in ("name", "drive_class")}
    if part == "mount" and key == PERIODIC:
        return *_with_periodic(rig, site, text.strip()), band
    if key not in rules:
        names = [*[PERIODIC] * (part == "mount"), *rules]
        raise InvalidInputError(OPTION, change, f"{key} is no figure of a {part}", did_you_mean(key, names))
    try:
        value, error = value_with_error(key, text.strip(), rules[key])
        errors = {one: known for one, known in old.errors.items() if one != key}
        new = dataclasses.replace(old, **{key: value}, errors=errors if error is None else errors | {key: error})
    except InvalidInputError as error:
        raise InvalidInputError(f"{OPTION} {part}.{key}", text.strip(), error.rule, error.remedy) from None
    return _placed(rig, site, band, part, new)


def _with_periodic(rig: Rig, site: Site, text: str) -> tuple[Rig, Site]:
    """Scale all periodic terms, so that they span what is asked, peak to peak."""
    name = f"{OPTION} mount.{PERIODIC}"
    value = parse_option(name, text, PEAK_TO_PEAK)
    if present_figures(rig, site).periodic_error is None:
        raise InvalidInputError(name, text, f'the mount "{rig.mount.name}" has no periodic term to scale',
                                "Give it a drive_class or periodic terms.")
    return with_figures(rig, site, WhatIf(periodic_error=value))


def _placed(rig: Rig, site: Site, band: Filter, part: str, new: Any) -> tuple[Rig, Site, Filter]:
    """Put a changed part where the old one was."""
    if part == "site":
        return rig, new, band
    if part == "filter":
        filters = tuple(new if item is band else item for item in rig.filters)
        return dataclasses.replace(rig, filters=filters), site, new
    return (new if part == "rig" else dataclasses.replace(rig, **{part: new})), site, band


def value_with_error(key: str, text: str, rule: Rule) -> tuple[Any, Any]:
    """Return a value as its rule wants it, and the standard error written with it, None without."""
    bare, written = split_error(text) if rule.kind in ("quantity", "number") else (text, None)
    if written is None:
        return _value(key, text, rule), None
    bare = bare if rule.kind == "number" else with_unit(bare, rule)
    written = written if rule.kind == "number" else with_unit(written, rule)
    read, error = error_of(key, bare, written, rule)
    return _value(key, bare if isinstance(read, str) else str(read), rule), error


def _value(key: str, text: str, rule: Rule) -> Any:
    value: Any = text
    if rule.kind == "quantity":
        return parse_option(key, text, rule)
    if rule.kind == "truth":
        value = {"true": True, "false": False}.get(text.lower(), text)
    elif rule.kind in ("number", "whole"):
        with contextlib.suppress(ValueError):
            value = float(text)
    return written_value(key, value, rule)
