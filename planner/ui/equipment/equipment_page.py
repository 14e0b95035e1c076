"""My equipment: every table of the equipment file in a form, with the figures that follow from it."""

import datetime
import re
from collections.abc import Callable
from concurrent.futures import Future
from functools import partial
from pathlib import Path
from typing import Any

import streamlit as st

from planner.errors import InvalidInputError, PlannerError
from planner.files.equipment import check_equipment, equipment_path, load_equipment
from planner.files.equipment.changed_advice import part_changed
from planner.files.equipment.edit import (
    add_equipment_table,
    equipment_tables,
    remove_equipment_table,
    try_equipment_table,
    write_equipment_table,
)
from planner.files.equipment.history import origins
from planner.files.equipment.load import equipment_stamp
from planner.files.equipment.start import begin_equipment
from planner.files.equipment.tables import KINDS
from planner.rig import Equipment
from planner.session.match.equipment_figures import part_figures
from planner.ui.choices import equipment_file, said, say_after, show_said, target_and_night
from planner.ui.equipment.fields import Draft, draft_of, show_fields, take_in, values_of
from planner.ui.equipment.undo import offer_history, offer_undo
from planner.ui.lines import WAITING
from planner.ui.outside import ask_first
from planner.ui.plain import plain
from planner.ui.settings import hold
from planner.ui.waiting import answered
from planner.visibility.target import Target

TITLES = {"rig": "Rigs", "site": "Sites", "telescope": "Telescopes", "reducer": "Reducers", "camera": "Cameras",
          "filter": "Filters", "mount": "Mounts", "guider": "Guiders"}
EVERY_S = 5  # between two looks at the file
SAID = ("gear_said", "gear_said_which", "gear_said_save", "gear_said_history")  # what was done, by where it is told
NEW = "\0new"  # no name of a table


def page() -> None:
    """Show the page."""
    show_said("gear_said")
    path = equipment_path(equipment_file())
    problems = check_equipment(path)
    if problems:
        st.error(f"The equipment file {plain(path)} has problems. Mend them in a text editor, or put back the "
                 f"version before, which is kept as {plain(path.name)}.bak, and reload this page.")
        st.markdown("\n".join(f"- {plain(problem)}" for problem in problems))
        return
    equipment = load_equipment(path)
    if equipment.is_demo:
        _offer_a_start()
    else:
        st.caption(plain(f"Kept in {path}. Each change keeps the version before as {path.name}.bak."))
        with st.container():  # what stands below keeps its place when there is something to undo
            offer_undo(_done)
    tables = equipment_tables(path)
    _tell_of_others(path, tables)
    kind = _kind()
    _overview(kind, equipment)
    name = _which(kind, tables, locked=equipment.is_demo)
    _form(kind, name, tables, locked=equipment.is_demo)


@st.fragment(run_every=EVERY_S)
def _watch(path: Path, stamp: str) -> None:
    """Run the page anew when the file has been written by someone else."""
    if equipment_stamp(path) != stamp:
        st.rerun()


def _tell_of_others(path: Path, tables: dict[str, list[dict[str, Any]]]) -> None:
    """Say that the file was changed elsewhere, and keep what was typed for a part that is gone from it."""
    stamp, state = equipment_stamp(path), st.session_state
    if state.setdefault("gear_stamp", stamp) != stamp:
        state["gear_stamp"] = stamp
        say_after("gear_elsewhere", "The equipment file was changed elsewhere, in another window or an editor. What "
                                    "you have not touched is shown as it is now.")
    drafts: dict[tuple[str, str | None], tuple[Draft, Draft]] = state.get("gear_drafts", {})
    for kind, name in list(drafts):
        if name is not None and name not in {str(table["name"]) for table in tables[kind]}:
            start, draft = drafts.pop((kind, name))
            if start != draft:
                names = {other: [str(table["name"]) for table in tables[other]] for other in KINDS}
                drafts[kind, None] = draft_of(kind, {}, names), draft
                state[f"gear_which_{kind}_shown"] = NEW
                say_after("gear_gone", f"The {kind} “{name}” is no longer in the file: it was renamed or removed "
                                       "elsewhere. What you had typed is kept below as a new one.")
    for key in ("gear_elsewhere", "gear_gone"):
        place, told = st.empty(), said(key)
        if told is not None:
            place.warning(plain(told[0]))
    _watch(path, stamp)


def _offer_a_start() -> None:
    """Say that this is the demo and offer two ways to begin."""
    st.info("This is the packaged demo, invented for trying things out; it cannot be changed. Start your own from a "
            "commented example, in which you replace the figures, or from a copy of this demo.")
    with st.container(horizontal=True):
        st.button("Start my own equipment", type="primary", key="gear_begin", on_click=_begin, args=(False,))
        st.button("Start from a copy of the demo", key="gear_copy_demo", on_click=_begin, args=(True,))


def _begin(copy_of_demo: bool) -> None:
    _done(lambda: f"Your equipment file is {begin_equipment(equipment_file(), copy_of_demo=copy_of_demo)}. "
                  "Replace its figures by yours.")


def _kind() -> str:
    state = st.session_state
    held = hold("gear_kind", state.get("gear_kind") or state.get("gear_kind_shown", "rig"))
    kind = st.segmented_control("Part", list(TITLES), default=held, format_func=TITLES.__getitem__,
                                key="gear_kind") or "rig"
    state["gear_kind_shown"] = kind
    return str(kind)


def _overview(kind: str, equipment: Equipment) -> None:
    parts = getattr(equipment, f"{kind}s")
    rows = [{kind.capitalize(): part.name, **{figure.label: figure.value for figure in part_figures(part, equipment)}}
            for part in parts]
    if kind == "reducer":
        rows = [{"Reducer": part.name, "Behind": ", ".join(
            f"{figure.label.removeprefix('Behind ')} {figure.value} {figure.remark}"
            for figure in part_figures(part, equipment))} for part in parts]
    if rows:
        st.table(rows)
    else:
        st.caption(f"There is no {kind} yet. None is needed." if kind in ("reducer", "guider") else "None yet.")


def _which(kind: str, tables: dict[str, list[dict[str, Any]]], *, locked: bool) -> str | None:
    """Show the list of parts with the buttons beside it; return the chosen name, None for a new part."""
    names = [str(table["name"]) for table in tables[kind]]
    state, key = st.session_state, f"gear_which_{kind}"
    options = names + ([] if locked else [NEW])
    if not options:
        return None
    wanted = state.get(f"{key}_shown")
    held = hold(key, wanted if wanted in options else options[0])
    with st.container(horizontal=True, vertical_alignment="bottom"):
        picked = str(st.selectbox(f"Show or change this {kind}", options, options.index(held), key=key,
                                  on_change=_keep_which, args=(key,),
                                  format_func=lambda name: f"Add a {kind} …" if name == NEW else name))
        if picked != NEW:
            st.button("Copy", key="gear_copy", disabled=locked, on_click=_copy, args=(kind, picked, tables),
                      help=f"A new {kind} that starts from this one.")
            st.button("Remove", key="gear_remove", disabled=locked, on_click=_remove, args=(kind, picked),
                      help=f"Takes this {kind} out of the file, unless something else uses it.")
    show_said("gear_said_which")
    state[f"{key}_shown"] = picked
    return None if picked == NEW else picked


def _keep_which(key: str) -> None:
    st.session_state[f"{key}_shown"] = st.session_state[key]


def _form(kind: str, name: str | None, tables: dict[str, list[dict[str, Any]]], *, locked: bool) -> None:
    """Show the form of one part with the figures that follow from what it holds."""
    names = {other: [str(table["name"]) for table in tables[other]] for other in KINDS}
    if name is None and locked:
        return
    written = {} if name is None else next(table for table in tables[kind] if str(table["name"]) == name)
    start, draft = _draft(kind, name, draft_of(kind, written, names))
    values = values_of(kind, draft, None if name is None else start)
    try:
        tried, problems = try_equipment_table(equipment_file(), kind, name, values)
    except PlannerError as error:
        st.error(plain(error))
        return
    with st.container():  # the buttons keep their place while they are pressed
        show_fields(kind, draft, names, problems, locked=locked)
        _figures(kind, name, draft, tried)
        if name is not None and not locked:
            _origins(kind, name)
    if not locked:
        _save(kind, name, problems, changed=draft != start)
        place = st.empty()
        show_said("gear_said_history")
        if name is not None:
            offer_history(kind, name, partial(_put_back, kind, name))
            if tried is not None and not problems and draft != start:
                _what_it_changes(place, kind, name, draft, tried)


def _draft(kind: str, name: str | None, written: Draft) -> tuple[Draft, Draft]:
    """Return what the form started from and what it holds now; untouched, it follows the file."""
    drafts: dict[tuple[str, str | None], tuple[Draft, Draft]] = st.session_state.setdefault("gear_drafts", {})
    start, draft = drafts.setdefault((kind, name), (written, dict(written)))
    if start == draft:
        draft |= written  # in place: a field of a run that was cut short still writes into it
        drafts[kind, name] = written, draft
    return drafts[kind, name]


def _figures(kind: str, name: str | None, draft: Draft, equipment: Equipment | None) -> None:
    if equipment is None:
        return
    spelled = str(draft["name"]).strip() or name
    part = next((part for part in getattr(equipment, f"{kind}s") if part.name == spelled), None)
    figures = () if part is None else part_figures(part, equipment)
    if not figures:
        return
    st.subheader("What follows", anchor=False)
    for column, figure in zip(st.columns(max(len(figures), 3)), figures, strict=False):
        column.metric(plain(figure.label), plain(figure.value))
        if figure.remark:
            column.caption(plain(figure.remark))


def _origins(kind: str, name: str) -> None:
    """Show where each figure that is saved came from."""
    lines = origins(equipment_file(), kind, name)
    if lines:
        st.caption("Where each figure came from, as saved:  \n" + "  \n".join(
            plain(f"{line[:1].upper()}{line[1:]}.") for line in lines))


def _what_it_changes(place: Any, kind: str, name: str, draft: Draft, after: Equipment) -> None:
    """Show what the form as it stands would change in the advice, once that is there."""
    before = load_equipment(equipment_path(equipment_file()))
    site = before.site(name) if kind == "site" else before.sites[0]
    target, evening = target_and_night(site)
    spelled = str(draft["name"]).strip() or name
    stamp = equipment_stamp(equipment_path(equipment_file()))
    place.info(f"What this would change: {WAITING}.")
    try:
        change = answered(_asked_for(stamp, kind, name, repr(sorted(draft.items())), evening, repr(target), before,
                                     after, spelled, target), _asked_for)
    except PlannerError as error:
        place.error(plain(error))
        return
    if change is None:
        place.info(f"No rig has this {kind}: the advice stays.")
    else:
        place.info(plain(f"Once saved: {change}"))


@st.cache_resource(max_entries=40, show_spinner=False)
def _asked_for(stamp: str, kind: str, name: str, held: str, evening: datetime.date, whose: str, _before: Equipment,
               _after: Equipment, _spelled: str, _target: Target) -> Future[str | None]:
    """Return what a change would mean, to come; the cache is keyed on the file, the form and the target."""
    return ask_first(part_changed, _before, _after, kind, name, _spelled, evening, _target)


def _save(kind: str, name: str | None, problems: dict[str, InvalidInputError], *, changed: bool) -> None:
    """Show what keeps the form from being saved, and the buttons."""
    needed = [re.sub(r"periodic\[(\d+)\]\.(\w+)", r"\2 of term \1", key).replace("_", " ")
              for key, problem in problems.items() if problem.rule == "must be given"]
    with st.container():
        if needed:
            st.caption(f"Still needed: {', '.join(needed)}.")
        elif problems:
            st.caption("Mend the marked entries, then save.")
        for key, problem in problems.items():
            if not key or (key == "periodic" and changed):
                st.error(plain(problem))
    with st.container(horizontal=True):
        st.button("Save" if name is not None else f"Add this {kind}", type="primary", key="gear_save",
                  on_click=_write, args=(kind, name))
        st.button("Discard changes", key="gear_discard", disabled=not changed, on_click=_discard, args=(kind, name))
        show_said("gear_said_save")  # beside the click, of which it tells
    if changed and not problems:
        st.caption("Not saved yet.")


def _write(kind: str, name: str | None) -> None:
    """Save what the form holds at this moment: a figure typed just before the click has not been on the page yet."""
    def write() -> str:
        start, draft = st.session_state["gear_drafts"][kind, name]
        take_in(kind, draft)
        values = values_of(kind, draft, None if name is None else start)
        if name is not None:
            _refuse_overwriting(kind, name, values)
        if name is None:
            add_equipment_table(equipment_file(), kind, values)
        else:
            write_equipment_table(equipment_file(), kind, name, values)
        spelled = str(values.get("name", name)).strip()
        _discard(kind, name)
        st.session_state[f"gear_which_{kind}_shown"] = spelled
        return f"Saved: {kind} “{spelled}”."

    _done(write, "gear_said_save")


def _refuse_overwriting(kind: str, name: str, values: dict[str, Any]) -> None:
    """Refuse once to put a value in the place of one that was saved elsewhere since the form was begun."""
    tables = equipment_tables(equipment_path(equipment_file()))
    table = next((table for table in tables[kind] if str(table["name"]) == name), None)
    if table is None:
        return
    names = {other: [str(one["name"]) for one in tables[other]] for other in KINDS}
    start, draft = st.session_state["gear_drafts"][kind, name]
    there = draft_of(kind, table, names)
    lost = [key for key in values if there[key] not in (start[key], draft[key])]
    st.session_state["gear_drafts"][kind, name] = start | {key: there[key] for key in lost}, draft
    if lost:
        key = lost[0]
        raise InvalidInputError(key.replace("_", " "), draft[key], "was changed elsewhere meanwhile, from "
                                f"{start[key] or 'nothing'} to {there[key] or 'nothing'}",
                                "Save again to put yours in its place, or discard your changes.")


def _remove(kind: str, name: str) -> None:
    def remove() -> str:
        remove_equipment_table(equipment_file(), kind, name)
        _discard(kind, name)
        return f"Removed: {kind} “{name}”. The version before is kept beside the file."

    _done(remove, "gear_said_which")


def _copy(kind: str, name: str, tables: dict[str, list[dict[str, Any]]]) -> None:
    """Begin a new part from one that is there."""
    names = {other: [str(table["name"]) for table in tables[other]] for other in KINDS}
    written = next(table for table in tables[kind] if str(table["name"]) == name)
    draft = draft_of(kind, {**written, "name": f"{name} (copy)"}, names)
    st.session_state.setdefault("gear_drafts", {})[kind, None] = draft_of(kind, {}, names), draft
    st.session_state[f"gear_which_{kind}_shown"] = NEW


def _put_back(kind: str, name: str, work: Callable[[], str]) -> None:
    """Put a part back as it was, and forget what was typed over it; its name may be an earlier one."""
    _discard(kind, name)
    _done(work, "gear_said_history")


def _discard(kind: str, name: str | None) -> None:
    for key in SAID:
        st.session_state.pop(key, None)
    st.session_state.get("gear_drafts", {}).pop((kind, name), None)


def _done(work: Any, key: str = SAID[0]) -> None:
    """Do it and keep what there is to say for the run that follows, where the click was."""
    try:
        say_after(key, work())
        st.session_state.pop("gear_stamp", None)  # a change of one's own
    except PlannerError as error:
        say_after(key, str(error), done=False)

