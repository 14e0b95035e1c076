"""The rules a value must keep, declared once and checked wherever the value enters.

A `Rule` sits in the metadata of a dataclass field (`quantity`, `number`, `text`, `choice`). The model checks
itself with it when built, the equipment file checks every key with it in one go, and a form can show it.
"""

import dataclasses
import functools
import inspect
import math
import numbers
import types
import typing
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any, ParamSpec, TypeVar

import numpy as np
from astropy import units as u

from planner.errors import LINKING, STEERING, InvalidInputError

LONGEST_TEXT = 200  # characters of a name
MANY = 12  # names that a line lists
P = ParamSpec("P")
R = TypeVar("R")
M = TypeVar("M", bound="Model")


@dataclasses.dataclass(frozen=True, kw_only=True)
class Rule:
    """Limits of one value, with its unit, its meaning and the remedy for a breach."""

    unit: u.UnitBase | None = None  # None: a plain number, a text or a choice
    kind: str = "number"  # number, whole, text, choice, truth, other
    more_than: float | None = None
    at_least: float | None = None
    at_most: float | None = None
    less_than: float | None = None
    choices: tuple[str, ...] = ()
    optional: bool = False
    meaning: str = ""
    remedy: str = ""

    def breach(self, bare: float) -> str | None:
        """Return the limit that a bare number in the rule's unit breaks, in words, or None if it keeps all."""
        if self.more_than is not None and not bare > self.more_than:
            return f"must be more than {self.more_than:g}{self._tail}"
        if self.at_least is not None and not bare >= self.at_least:
            return f"must be at least {self.at_least:g}{self._tail}"
        if self.at_most is not None and not bare <= self.at_most:
            return f"must be at most {self.at_most:g}{self._tail}"
        if self.less_than is not None and not bare < self.less_than:
            return f"must be less than {self.less_than:g}{self._tail}"
        return None

    @property
    def _tail(self) -> str:
        """The unit, as it follows a number."""
        return f" {self.unit}" if self.unit is not None and str(self.unit) else ""


def check(name: str, value: Any, rule: Rule) -> Any:
    """Return the value in the rule's unit, or raise `InvalidInputError` naming the rule it breaks."""
    if value is None and rule.optional:
        return None
    if rule.kind == "other":
        return tuple(value) if isinstance(value, list) else value
    if rule.kind == "truth":
        return _checked_truth(name, value, rule)
    if rule.kind == "text":
        return _checked_text(name, value, rule)
    if rule.kind == "choice":
        return _checked_choice(name, value, rule)
    if rule.unit is not None:
        return _checked_quantity(name, value, rule)
    return _checked_number(name, value, rule)


def _checked_truth(name: str, value: Any, rule: Rule) -> bool:
    if not isinstance(value, (bool, np.bool_)):
        raise InvalidInputError(name, value, "must be true or false", rule.remedy)
    return bool(value)


def _checked_text(name: str, value: Any, rule: Rule) -> str:
    if not isinstance(value, str) or not value.strip():
        raise InvalidInputError(name, value, "must be a text of at least one character", rule.remedy)
    if len(value) > LONGEST_TEXT:
        raise InvalidInputError(name, value, f"must have at most {LONGEST_TEXT} characters, it has {len(value)}",
                                "Shorten it.")
    if STEERING.search(value):
        raise InvalidInputError(name, value, "must be one line without control characters or marks of direction",
                                "Type it anew.")
    if LINKING.search(value):
        raise InvalidInputError(name, value, "must hold no marks of a picture or a link: no [ after !, no ( after ]",
                                "Leave them out.")
    return value.strip()


def _checked_choice(name: str, value: Any, rule: Rule) -> str:
    if value not in rule.choices:
        raise InvalidInputError(name, value, f"must be one of {', '.join(rule.choices)}", rule.remedy)
    return str(value)


def _checked_number(name: str, value: Any, rule: Rule) -> float | int:
    is_number = isinstance(value, numbers.Real) and not isinstance(value, bool)
    if isinstance(value, u.Quantity) or not is_number or not math.isfinite(value):
        raise InvalidInputError(name, value, "must be a finite number without unit", rule.remedy)
    if rule.kind == "whole" and float(value) != int(value):
        raise InvalidInputError(name, value, "must be a whole number", rule.remedy)
    breach = rule.breach(float(value))
    if breach:
        raise InvalidInputError(name, value, breach, rule.remedy)
    return int(value) if rule.kind == "whole" else float(value)


def _checked_quantity(name: str, value: Any, rule: Rule) -> u.Quantity:
    if not isinstance(value, u.Quantity):
        raise InvalidInputError(name, value, f"must carry a unit like {rule.unit}", rule.remedy)
    if value.unit is rule.unit and value.isscalar and math.isfinite(value.value) and rule.breach(value.value) is None:
        return value
    equivalencies = u.temperature() if rule.unit is u.deg_C else []  # == takes 30 µs where it is not
    try:
        converted = value.to(rule.unit, equivalencies)
    except u.UnitConversionError:
        raise InvalidInputError(name, value, f"must have a unit like {rule.unit}", rule.remedy) from None
    bare = converted.value
    extremes = (bare,) if isinstance(bare, float) else (bare.min(), bare.max()) if bare.size else ()
    if not all(map(math.isfinite, extremes)):
        raise InvalidInputError(name, value, "must be a finite value", rule.remedy)
    for extreme in extremes:
        breach = rule.breach(extreme)
        if breach:
            raise InvalidInputError(name, value, breach, rule.remedy)
    return converted


def quantity(unit: Any, *, default: Any = dataclasses.MISSING, **rule: Any) -> Any:
    """Declare a dataclass field that holds a Quantity; `default` may be a text like ``"0 arcsec"`` or None."""
    rule.setdefault("optional", default is None)
    if isinstance(default, str):
        default = u.Quantity(default)
    metadata = {"rule": Rule(unit=u.Unit(unit), kind="quantity", **rule)}
    if default is dataclasses.MISSING:
        return dataclasses.field(metadata=metadata)
    return dataclasses.field(default_factory=lambda: default, metadata=metadata)


def plain(kind: str, *, default: Any = dataclasses.MISSING, **rule: Any) -> Any:
    """Declare a dataclass field of kind number, whole, text, choice, truth or other."""
    rule.setdefault("optional", default is None)
    metadata = {"rule": Rule(kind=kind, **rule)}
    if default is dataclasses.MISSING:
        return dataclasses.field(metadata=metadata)
    return dataclasses.field(default=default, metadata=metadata)


def given(value: R | None) -> R:
    """Return a value that its type lets be missing, at a place that is only reached with it."""
    if value is None:
        raise TypeError("a value is missing that this place is never reached without")
    return value


class Model:
    """Base of the frozen dataclasses: checks each field by its rule once, when built, then all of them together."""

    def __post_init__(self) -> None:
        for item in dataclasses.fields(self):  # type: ignore[arg-type]
            rule = item.metadata.get("rule")
            if rule is not None:
                checked = check(item.name, getattr(self, item.name), rule)
                object.__setattr__(self, item.name, checked)
        for fault in self.faults():
            raise fault

    def faults(self) -> Iterable[InvalidInputError]:
        """Return what the fields break together; a NaN or an empty text, for what is not known, breaks nothing."""
        return ()


def as_far_as_known(model: type[M], values: Mapping[str, Any]) -> M:
    """Return an unchecked model, to ask for its `faults`: a value that is None or must be given stands as not known."""
    made = object.__new__(model)
    for item in dataclasses.fields(model):  # type: ignore[arg-type]
        value = values.get(item.name)
        if value is None:
            default = item.default if item.default_factory is dataclasses.MISSING else item.default_factory()
            missing = item.name in values or default is dataclasses.MISSING
            value = _not_known(item.metadata["rule"]) if missing else default
        object.__setattr__(made, item.name, value)
    return made


def _not_known(rule: Rule) -> Any:
    if rule.unit is not None:
        return math.nan * rule.unit
    return math.nan if rule.kind in ("number", "whole") else "" if rule.kind in ("text", "choice") else ()


def check_units(function: Callable[P, R]) -> Callable[P, R]:
    """Make a function refuse arguments whose unit does not fit the annotation ``u.Quantity[unit]``.

    As `astropy.units.quantity_input`, but the annotations are read once, when the function is defined: 1 µs an argument
    instead of 100. A plain number passes where the unit is dimensionless, None where the annotation or the default
    allows it. The answer is converted if its annotation carries a unit.

    Raises TypeError: By the function, for an argument without a unit.
    Raises UnitsError: By the function, for one that cannot be converted.
    """
    signature = inspect.signature(function)
    units = {name: unit_of(parameter.annotation) for name, parameter in signature.parameters.items()}
    units = {name: unit for name, unit in units.items() if unit is not None}
    answer = unit_of(signature.return_annotation)
    order = tuple(signature.parameters)

    @functools.wraps(function)
    def checked(*args: P.args, **kwargs: P.kwargs) -> R:
        for name, value in (*zip(order, args, strict=False), *kwargs.items()):
            unit = units.get(name)
            if unit is not None and getattr(value, "unit", None) is not unit:
                _check_unit(function.__name__, signature.parameters[name], value, unit)
        result = function(*args, **kwargs)
        return result if answer is None else result << answer

    return checked


def unit_of(annotation: Any) -> u.UnitBase | None:
    """Return the unit in ``u.Quantity[unit]`` or ``u.Quantity[unit] | None``, None if there is none."""
    if typing.get_origin(annotation) in (typing.Union, types.UnionType):
        return next((unit for part in typing.get_args(annotation) if (unit := unit_of(part)) is not None), None)
    if typing.get_origin(annotation) is typing.Annotated:
        unit = next((extra for extra in annotation.__metadata__ if isinstance(extra, u.UnitBase)), None)
        return unit_of(annotation.__origin__) if unit is None else unit
    return None


def _check_unit(function: str, parameter: inspect.Parameter, value: Any, unit: u.UnitBase) -> None:
    """Refuse an argument that has no unit, or one that cannot be converted."""
    if value is None and (parameter.default is None or type(None) in typing.get_args(parameter.annotation)):
        return
    if isinstance(value, u.Quantity):
        if value.unit.is_equivalent(unit, u.temperature() if unit is u.deg_C else []):
            return
        raise u.UnitsError(f"{function}: {parameter.name} = {value}: must have a unit like '{unit}'.")
    number = isinstance(value, numbers.Number) or (isinstance(value, np.ndarray) and value.dtype.kind in "iuf")
    if not (number and unit == u.one):
        raise TypeError(f"{function}: {parameter.name} = {value!r}: must carry a unit like '{unit}'.")


def require_positive(name: str, value: u.Quantity, unit: Any, remedy: str = "") -> u.Quantity:
    """Return the Quantity in `unit`, or raise `InvalidInputError` unless all of it is more than zero."""
    return check(name, value, _sign_rule(unit, remedy, True))


def require_not_negative(name: str, value: u.Quantity, unit: Any, remedy: str = "") -> u.Quantity:
    """Return the Quantity in `unit`, or raise `InvalidInputError` if any of it is below zero."""
    return check(name, value, _sign_rule(unit, remedy, False))


@functools.lru_cache(maxsize=256)
def _sign_rule(unit: Any, remedy: str, positive: bool) -> Rule:
    return Rule(unit=u.Unit(unit), remedy=remedy, more_than=0 if positive else None, at_least=None if positive else 0)


def nearest_names(wanted: str, names: Iterable[str], count: int = 3, *, cutoff: float = 0.5) -> Sequence[str]:
    """Return up to `count` names that resemble the wanted one, best first."""
    import difflib

    by_lower = {name.lower(): name for name in names}
    matches = difflib.get_close_matches(wanted.lower(), by_lower, n=count, cutoff=cutoff)
    return [by_lower[match] for match in matches]


def not_one_of(name: str, value: str, choices: Iterable[str], remedy: str = "") -> InvalidInputError:
    """Return what is wrong with a word that is none of the choices, with the nearest of them."""
    choices = list(choices)
    near = did_you_mean(value, choices) if nearest_names(value, choices) else remedy
    return InvalidInputError(name, value, f"must be one of {', '.join(choices)}", near)


def did_you_mean(wanted: str, names: Iterable[str]) -> str:
    """Return ``Did you mean A or B?`` with the nearest names, or the names there are."""
    names = list(names)
    near = nearest_names(wanted, names)
    if near:
        return f"Did you mean {' or '.join(near)}?"
    more = f" and {len(names) - MANY} more" if len(names) > MANY else ""
    return f"There are: {', '.join(names[:MANY])}{more}." if names else ""
