"""Which targets the night is planned for: the standing list, the projects, or names typed in."""

import re
from collections.abc import Mapping
from dataclasses import dataclass

import streamlit as st

from planner.errors import InvalidInputError, PlannerError
from planner.files.projects import ProjectFile, user_projects_path
from planner.files.projects.wanted import StandingList, own_projects, standing_list, standing_list_path
from planner.files.targets import find_each, find_target
from planner.rig import Rig, Site
from planner.session.projects.project_requests import project_requests
from planner.session.projects.request import Request
from planner.ui import settings
from planner.ui.choices import Chosen
from planner.ui.plain import plain
from planner.ui.settings import hold
from planner.visibility.target import Target

ALONE, LIST, PROJECTS, NAMED = "alone", "list", "projects", "named"
BETWEEN = "|"  # names in the address
MOST_NAMED = 12  # names that a message lists
_PRIORITY = re.compile(r"(?P<name>.+?)\s+[x×*]\s*(?P<priority>\d+([.,]\d+)?)")


@dataclass(frozen=True)
class Wanted:
    """The targets, each once, and texts that a cache can be keyed on."""

    key: tuple[tuple[str, float | None], ...]  # name, priority: None for the project's
    stamp: str  # changes when the list or the project file does
    targets: tuple[tuple[Target, float | None], ...]


def ask_for_targets(chosen: Chosen, page: str, *, alone: bool = False) -> Wanted | None:
    """Show the widgets of a page and return what is wanted; None where nothing that can be used is named.

    With `alone` the target in the frame above the page may be chosen alone, and is unless told otherwise.
    """
    projects = own_projects()
    has_projects = projects is not None and bool(projects.projects)
    listed = _list_at(chosen.site, _stamp(chosen.site))
    no_list = listed.is_demo and not chosen.equipment.is_demo  # the demo's targets never stand beside one's own rig
    choices = [*([ALONE] if alone or no_list else []), *([] if no_list else [LIST]),
               *([PROJECTS] if has_projects else []), NAMED]
    if has_projects and not alone:  # the usual one comes first
        choices = [PROJECTS, *(choice for choice in choices if choice != PROJECTS)]
    labels = {ALONE: "The target above", LIST: "The demo's list" if listed.is_demo else "My list",
              PROJECTS: "My projects", NAMED: "Names of my own"}
    found: list[tuple[Target, float | None]] = []
    source = settings.pick("source", "Targets to choose from", choices, key=f"{page}_source",
                           format_func=lambda name: labels[name])
    with st.container():  # the fields below keep their place when a name is refused
        if source == NAMED:
            found = _named(chosen, page)
        elif source == PROJECTS and projects is not None:
            found = [(target, None) for target in _placed(projects, chosen.rig)]
    if source == ALONE:
        found = [(chosen.target, None)]
    elif source == LIST:
        found = [(target, None) for target in listed.targets]
        if chosen.target.name not in {target.name for target in listed.targets}:
            found.insert(0, (chosen.target, None))
    if not found:
        return None
    return Wanted(key=tuple((target.name, priority) for target, priority in found), stamp=_stamp(chosen.site),
                  targets=tuple(found))


def _stamp(site: Site) -> str:
    """Return a text that changes when one of the files does."""
    paths = [path for path in (standing_list_path(site), user_projects_path()) if path.is_file()]
    return "|".join(f"{path}@{path.stat().st_mtime_ns}" for path in paths)


@st.cache_data(max_entries=4, show_spinner=False)
def _list_at(_site: Site, stamp: str) -> StandingList:
    return standing_list(_site)


def _named(chosen: Chosen, page: str) -> list[tuple[Target, float | None]]:
    """Show the field for names and return what they name; a line that names nothing is marked and left out."""
    key = f"{page}_names"
    held = hold(key, "\n".join((st.session_state.get("choice_names") or chosen.target.name).split(BETWEEN)))
    text = st.text_area("Names, one a line", held, key=key, height=140, on_change=_keep_names, args=(key,), help=(
        'A catalogue or common name, or coordinates. “NGC 7331 x 2” counts its hours twice.'))
    found: dict[str, tuple[Target, float | None]] = {}
    lines = [_split(line.strip()) for line in text.splitlines() if line.strip()]
    places, unknown = find_each(name for name, _ in lines)
    say_unknown(unknown)
    for name, priority in lines:
        if priority is not None and not 0 < priority <= 1000:
            st.error(plain(f"priority = {priority:g}: must be more than 0 and at most 1000. Write it like {name} x 2. "
                           "This line is left out."))
        elif " ".join(name.split()) in places:
            target = places[" ".join(name.split())]
            found[target.name] = (target, priority)
    if not found:
        st.info("No target is named. Write at least one name above, for example NGC 7331.")
    return list(found.values())


def _keep_names(key: str) -> None:
    """Keep the names for all pages and the address."""
    st.session_state["choice_names"] = BETWEEN.join(st.session_state[key].split("\n")) or BETWEEN


def _split(line: str) -> tuple[str, float | None]:
    """Return the name of a line and its priority, if it has one."""
    match = _PRIORITY.fullmatch(line)
    return (match["name"], float(match["priority"].replace(",", "."))) if match else (line, None)


def say_unknown(unknown: Mapping[str, InvalidInputError]) -> None:
    """Say in one message which names nothing has; a few of them with what they may have meant."""
    if len(unknown) == 1:
        try:
            find_target(next(iter(unknown)))
        except PlannerError as error:
            st.error(plain(f"{error} This line is left out."))
    elif unknown:
        groups: dict[str, list[str]] = {}
        for text, problem in unknown.items():
            groups.setdefault(problem.rule, []).append(text)
        lines = [f"{len(texts)} × {rule}: {', '.join(texts[:MOST_NAMED])}{' …' if len(texts) > MOST_NAMED else ''}"
                 for rule, texts in groups.items()]
        st.error(plain(f"{len(unknown)} lines are left out. " + ". ".join(lines) + "."))


def targets_of_projects(projects: ProjectFile, rig: Rig) -> list[Request]:
    """Return what the projects want of a rig, each target once; without a word about what is left out."""
    places, _ = find_each(item.target for item in projects.projects)
    found: dict[str, Request] = {}
    for item in projects.projects:
        target = places.get(" ".join(item.target.split()))
        for request in () if target is None else project_requests(item, target, rig):
            found.setdefault(request.target.name, request)
    return list(found.values())


def _placed(projects: ProjectFile, rig: Rig) -> list[Target]:
    """Return the targets of projects, each once; what names nothing is marked, what the rig cannot do is said."""
    found: dict[str, Target] = {}
    places, unknown = find_each(item.target for item in projects.projects)
    say_unknown(unknown)
    idle = []
    for item in projects.projects:
        target = places.get(" ".join(item.target.split()))
        if target is not None and not project_requests(item, target, rig):
            idle.append(item.target)
        elif target is not None:
            found.setdefault(target.name, target)
    if idle:
        more = f" and {len(idle) - MOST_NAMED} more" if len(idle) > MOST_NAMED else ""
        st.caption(plain(f'Left out, for the rig "{rig.name}" has none of the filters they need: '
                         f'{", ".join(idle[:MOST_NAMED])}{more}.'))
    if not found:
        st.info("None of the projects can be worked on with this rig. Choose another rig, or names of your own.")
    return list(found.values())
