"""One table of the equipment as a form, built from the rules of its keys: unit, limits, meaning and remedy.

A field shows its value as the file writes it, with its unit; a bare number is taken in the unit of the label. An empty
field stands for the usual value, which it shows in grey.
"""

import dataclasses
import re
from collections.abc import Mapping, Sequence
from typing import Any

import streamlit as st
from astropy import units as u

from planner.checks import Rule
from planner.errors import InvalidInputError
from planner.files.equipment.drive_classes import DRIVE_CLASSES, LABEL
from planner.files.equipment.tables import KINDS, REFERENCES, SPECIAL, rules_of
from planner.files.quantities import quantity_text, split_error, unit_text
from planner.rig import PeriodicTerm
from planner.ui.settings import hold

NONE_OF = {"guider": "(no guider)", "reducer": "(no reducer)"}  # what a rig can be without
OWN_FIGURES = "(my own figures)"
TERM_KEYS = ("period", "amplitude", "phase")
LISTS = {"filters": "filter", "telescopes": "telescope"}
_BARE = re.compile(r"\s*[+−-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?\s*")
_COMMA = re.compile(r"(\s*[+−-]?\d+),(\d+)(?=\s|[^\d.,]|$)")  # of a decimal number, as many write it
_PRETTY = {"um": "µm", "deg_C": "°C", "deg": "°", "mag/arcsec2": "mag/arcsec²", "electron/adu": "electrons per step",
           "electron": "electrons", "electron/s": "electrons/s", "arcsec/min(1/2)": "arcsec/√min",
           "Nm": "N m", "kgmm": "kg mm", "Nm2": "N m²", "mm2": "mm²", "m2": "m²", "kg/m3": "kg/m³", "deg/s": "°/s",
           "Ohm": "ohm"}
_NAMES = {"rate_error_ppm": "Rate error (ppm)", "flexure_ra": "Flexure in RA", "flexure_dec": "Flexure in Dec",
          "amplitude": "Amplitude, half of peak to peak"}

Draft = dict[str, Any]  # what the widgets hold, by key


@dataclasses.dataclass(frozen=True)
class Field:
    """One key of a table: its rule and its usual value as it would be written; None if it must be given."""

    key: str
    rule: Rule
    usual: Any

    @property
    def label(self) -> str:
        """Name and unit for people."""
        unit = unit_text(self.rule.unit)
        words = _NAMES.get(self.key, self.key.replace("_", " ").capitalize())
        return f"{words} ({_PRETTY.get(unit, unit)})" if unit else words

    @property
    def help(self) -> str:
        """Meaning, limits and remedy."""
        rule = self.rule
        bounds = [(rule.more_than, "more than"), (rule.at_least, "at least"), (rule.less_than, "less than"),
                  (rule.at_most, "at most")]
        limits = ", ".join(f"{words} {bound:g}" for bound, words in bounds if bound is not None)
        sentences = [text[:1].upper() + text[1:] for text in (rule.meaning, rule.remedy.rstrip("."), limits) if text]
        return ". ".join(sentences) + "." if sentences else ""


def fields_of(kind: str, draft: Mapping[str, Any]) -> list[Field]:
    """Return the fields of a kind of table, those that must be given first."""
    model = KINDS[kind]
    drive = DRIVE_CLASSES.get(str(draft.get("drive_class", "")), {}) if kind == "mount" else {}
    rules = rules_of(model, SPECIAL.get(kind, ()))
    fields = [Field(item.name, rules[item.name], drive.get(item.name, usual_of(item)))
              for item in dataclasses.fields(model) if item.name in rules]
    return sorted(fields, key=lambda field: field.usual is not None)


def usual_of(item: Any) -> Any:
    """Return the usual value of a dataclass field as it would be written; None if it must be given."""
    if item.default_factory is not dataclasses.MISSING:
        value = item.default_factory()
    elif item.default is not dataclasses.MISSING:
        value = item.default
    else:
        return None
    if value is None:
        return "not given"
    return quantity_text(value) if isinstance(value, u.Quantity) else value


def draft_of(kind: str, table: Mapping[str, Any], names: Mapping[str, list[str]]) -> Draft:
    """Return what the widgets show of a table as it is written."""
    draft: Draft = {}
    for field in fields_of(kind, {}):
        value = table.get(field.key)
        if field.key in LISTS:
            draft[field.key] = [_known(one, names[LISTS[field.key]]) for one in value or ()]
        elif field.key == "periodic":
            draft[field.key] = [{key: str(term.get(key, "")) for key in TERM_KEYS} for term in value or ()]
        elif kind == "rig" and field.key in REFERENCES:
            first = NONE_OF.get(field.key) or next(iter(names[field.key]), "")
            draft[field.key] = first if value is None else _known(value, names[field.key])
        elif field.key == "drive_class":
            draft[field.key] = OWN_FIGURES if value is None else str(value).strip().lower()
        elif field.rule.kind in ("truth", "choice"):
            draft[field.key] = field.usual if value is None else value
        else:
            draft[field.key] = "" if value is None else str(value)
    return draft


def _known(name: str, names: list[str]) -> str:
    return next((one for one in names if one.lower() == name.strip().lower()), name)


def values_of(kind: str, draft: Draft, start: Draft | None) -> dict[str, Any]:
    """Return the values of the keys that differ from the start, as they are written; None takes a key out."""
    return {field.key: written_value(field, draft[field.key]) for field in fields_of(kind, draft)
            if start is None or draft[field.key] != start[field.key]}


def written_value(field: Field, entered: Any) -> Any:
    """Return what a widget holds as the file writes it; None where it holds nothing."""
    rule = field.rule
    if entered in ("", [], OWN_FIGURES, *NONE_OF.values()):
        return [] if field.key == "filters" else None
    if field.key == "periodic":
        rules = rules_of(PeriodicTerm)
        terms = [{key: _with_unit(term[key], rules[key]) for key in TERM_KEYS if term[key].strip()}
                 for term in entered]
        return [term for term in terms if term] or None
    if rule.kind == "quantity":
        return _with_unit(entered, rule)
    if rule.kind in ("number", "whole"):
        entered = _COMMA.sub(r"\1.\2", entered, count=1)
    if rule.kind in ("number", "whole") and _BARE.fullmatch(entered):
        number = float(entered.replace("−", "-"))
        return int(number) if number.is_integer() and abs(number) < 2**62 else number
    return entered


def _with_unit(text: str, rule: Rule) -> str:
    text = _COMMA.sub(r"\1.\2", text, count=1)
    bare = all(_BARE.fullmatch(part) for part in split_error(text) if part is not None)  # with or without an error
    return f"{text.strip()} {unit_text(rule.unit)}" if bare else text


def show_fields(kind: str, draft: Draft, names: Mapping[str, list[str]], problems: Mapping[str, InvalidInputError], *,
                locked: bool) -> None:
    """Show the widgets; each change is kept in the draft, each problem stands below its field."""
    columns = st.columns(3)
    fields = [field for field in fields_of(kind, draft) if field.key != "periodic"]
    for place, field in enumerate(fields):
        with columns[place * 3 // len(fields)]:
            _show(kind, field, draft, names, locked)
            if field.key in problems and (draft[field.key] or field.usual is not None):
                _mark(problems[field.key])
    if kind == "mount":
        _show_terms(draft, problems, locked)


def _show(kind: str, field: Field, draft: Draft, names: Mapping[str, list[str]], locked: bool) -> None:
    widget = f"gear_{kind}_{field.key}"
    held = hold(widget, draft[field.key])
    common: dict[str, Any] = {"key": widget, "on_change": _keep, "args": (draft, field.key, widget), "disabled": locked,
                              "help": field.help or None}
    if field.key in LISTS:
        options = names[LISTS[field.key]]
        st.multiselect(field.label, options, held, placeholder="all" if field.key == "telescopes" else "choose",
                       **common)
    elif kind == "rig" and field.key in REFERENCES:
        without = [NONE_OF[field.key]] if field.key in NONE_OF else []
        _select(field.label, [*without, *names[field.key]], held, common)
    elif field.key == "drive_class":
        _select(field.label, [OWN_FIGURES, *DRIVE_CLASSES], held, {**common, "help": f"{field.help} {LABEL}."})
    elif field.rule.kind == "choice":
        _select(field.label, field.rule.choices, held, common)
    elif field.rule.kind == "truth":
        st.checkbox(field.label, held, **common)
    else:
        usual = "must be given" if field.usual is None else str(field.usual)
        st.text_input(field.label, held, placeholder=usual, **common)


def _select(label: str, options: Sequence[str], held: str, common: Mapping[str, Any]) -> None:
    st.selectbox(label, options, options.index(held) if held in options else 0, **common)


def _show_terms(draft: Draft, problems: Mapping[str, InvalidInputError], locked: bool) -> None:
    """Show the periodic terms, a line each, and an empty line for the next."""
    st.markdown("**Periodic error** of the RA drive, on the equator: one line for each term. "
                "An empty line is left out.")
    usual = st.empty()  # the lines below keep their place when the first is typed
    if not draft["periodic"] and draft["drive_class"] in DRIVE_CLASSES:
        terms = DRIVE_CLASSES[draft["drive_class"]]["periodic"]
        usual.caption("From the drive class: " + "; ".join(f"{t['period']}, {t['amplitude']}" for t in terms) + ".")
    rules = rules_of(PeriodicTerm)
    written = 0
    for place, term in enumerate([*draft["periodic"], dict.fromkeys(TERM_KEYS, "")]):
        written += any(term.values())
        for column, key in zip(st.columns(3), TERM_KEYS, strict=True):
            with column:
                widget = f"gear_mount_term_{place}_{key}"
                held = hold(widget, term[key])
                st.text_input(f"{Field(key, rules[key], None).label}, term {place + 1}", held, key=widget,
                              disabled=locked, help=Field(key, rules[key], None).help, on_change=_keep_term,
                              args=(draft, place, key, widget))
                problem = problems.get(f"periodic[{written}].{key}")
                if problem is not None and term[key].strip():
                    _mark(problem)


def take_in(kind: str, draft: Draft) -> None:
    """Bring the draft to what the widgets hold now, whichever of their changes were kept already."""
    state = st.session_state
    for field in fields_of(kind, draft):
        draft[field.key] = state.get(f"gear_{kind}_{field.key}", draft[field.key])
    terms: list[dict[str, str]] = []
    while kind == "mount" and f"gear_mount_term_{len(terms)}_{TERM_KEYS[0]}" in state:
        terms.append({key: state[f"gear_mount_term_{len(terms)}_{key}"] for key in TERM_KEYS})
    if terms:
        draft["periodic"] = [term for term in terms if any(text.strip() for text in term.values())]


def _mark(problem: InvalidInputError) -> None:
    """Say below a field what is wrong with it."""
    st.error(f"{problem.rule[:1].upper()}{problem.rule[1:]}. {problem.remedy}".strip())


def _keep(draft: Draft, key: str, widget: str) -> None:
    draft[key] = st.session_state[widget]


def _keep_term(draft: Draft, place: int, key: str, widget: str) -> None:
    terms = [dict(term) for term in draft["periodic"]]
    if place == len(terms):
        terms.append(dict.fromkeys(TERM_KEYS, ""))
    terms[place][key] = st.session_state[widget]
    draft["periodic"] = [term for term in terms if any(text.strip() for text in term.values())]
