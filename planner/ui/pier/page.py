"""The pier: does it balance, does 12 V arrive, does the column stand still."""

from dataclasses import dataclass
from pathlib import Path

import streamlit as st
from astropy import units as u

from planner.errors import PlannerError
from planner.files.pier import pier_path
from planner.files.pier.edit import differences, example_share, tables_key, try_pier
from planner.pier import (
    BalancePlan,
    ColumnAnswer,
    HeaterNeed,
    PierSetup,
    Wiring,
    heater_power,
    judge_column,
    judge_wiring,
    plan_balance,
)
from planner.pier.objection import CHECK, GOOD, UNSAFE
from planner.ui import whose
from planner.ui.lines import draw_lines
from planner.ui.pier import parts
from planner.ui.pier.assumed import assumed_share
from planner.ui.pier.draft import Draft, begin_own, current, discard, is_demo, save, tell
from planner.ui.pier.editors import show_tables
from planner.ui.plain import plain
from planner.ui.settings import hold

BALANCE, WIRING, COLUMN, NIGHT = "Balance", "12 V", "Column", "Name and night"
TABLES = {BALANCE: ("tube", "counterweight", "mount", "bar", "rotator"), WIRING: ("load", "cable", "hub", "supply"),
          COLUMN: ("column", "footing", "loads"), NIGHT: ("pier", "night")}
ORDER = (GOOD, CHECK, UNSAFE)
EVERY_S = 5  # between two looks at the file


@dataclass(frozen=True)
class Answers:
    """What the parts that are described come to."""

    balance: BalancePlan | None
    wiring: Wiring | None
    dew: HeaterNeed
    column: ColumnAnswer | None

    @property
    def parts(self) -> dict[str, BalancePlan | Wiring | ColumnAnswer | None]:
        """By the name on the page."""
        return {BALANCE: self.balance, WIRING: self.wiring, COLUMN: self.column}


@st.cache_data(max_entries=50, show_spinner="Working it out")
def answers_for(key: str, concrete_deg_c: float, _setup: PierSetup) -> Answers:
    """Return the answers about a pier; the cache is keyed on its tables as text."""
    night = _setup.conditions
    return Answers(
        balance=None if _setup.assembly is None else plan_balance(
            _setup.assembly, latitude=_setup.latitude, column=_setup.column, footing=_setup.footing),
        wiring=None if _setup.tree is None else judge_wiring(_setup.tree, night),
        dew=heater_power(100 * u.mm, temperature=night.temperature, humidity=night.humidity),
        column=None if _setup.column is None else judge_column(
            _setup.column, _setup.footing, _setup.loads, latitude=_setup.latitude,
            concrete_temperature=concrete_deg_c * u.deg_C))


def page() -> None:
    """Show the page."""
    path = pier_path()
    above = st.container()  # what is said in it may grow: the fields below keep their place, with what is being typed
    try:
        draft = current(path)
        with above:
            _whose(draft)
        setup, problems = try_pier(path, draft.tables)
        answers = None if setup is None else answers_for(
            tables_key(draft.tables), parts.concrete_temperature(), setup)
    except PlannerError as error:
        st.error(plain(error))
        return
    with above:
        tell(draft)
        _watch(path, path.stat().st_mtime_ns)
        if answers is None:
            st.header("No answer yet", anchor=False)
            for problem in problems:
                st.error(plain(problem))
        else:
            with st.container(key="of_rows_verdict"):
                _verdict(draft, answers)
        _bar(draft, sound=answers is not None)
    part = _part(answers)
    with st.container(key="of_rows_part"):
        if answers is not None and setup is not None:
            _part_answer(part, draft, setup, answers)
    with st.expander(f"Change {part.lower() if part != WIRING else part}", expanded=answers is None or part == NIGHT):
        show_tables(draft, TABLES[part])
    _cautions(part)


def _whose(draft: Draft) -> None:
    """Say whose figures these are: one's own file begins with those of the example."""
    same, count = example_share(draft.start)
    if is_demo():
        whose.about("pier", True, "the demo's pier, not yours")
        return
    example = 2 * same > count
    whose.about("pier", example, "mostly the example's figures, not yours yet" if example else "your pier")
    if 10 * same > count:
        st.caption(f"{same} of its {count} figures are still those of the example: replace them by yours.")


@st.fragment(run_every=EVERY_S)
def _watch(path: Path, stamp: int) -> None:
    """Run the page anew when the file has been written by someone else."""
    if not path.exists() or path.stat().st_mtime_ns != stamp:
        st.rerun()


def _verdict(draft: Draft, answers: Answers) -> None:
    """Say the worst of all first, then each part."""
    told = {name: answer for name, answer in answers.parts.items() if answer is not None}
    missing = [name for name in answers.parts if name not in told]
    worst = max((answer.verdict for answer in told.values()), key=ORDER.index, default=CHECK)
    if worst == GOOD and not missing:
        st.header("Good: it stands, it balances and 12 V arrive", anchor=False)
    elif worst == GOOD:
        st.header("Nothing speaks against what is described, which is not all of it", anchor=False)
    else:
        *more, last = [parts.SUBJECTS[name] for name, answer in told.items() if answer.verdict == worst]
        named = f"{', '.join(more)} and {last}" if more else last
        st.header(f"{parts.WORDS[worst]}: {named}", anchor=False)
    draw_lines(st, [(name, _told(answer), *([] if answer is None else _first(draft, name, answer)))
                    for name, answer in answers.parts.items()])


def _told(answer: BalancePlan | Wiring | ColumnAnswer | None) -> str:
    if answer is None:
        return "not described"
    count = len(answer.objections)
    return parts.WORDS[answer.verdict] + (f", {count} {'objection' if count == 1 else 'objections'}" if count else "")


def _first(draft: Draft, name: str, answer: BalancePlan | Wiring | ColumnAnswer) -> list[str]:
    """Return the first objection, the worst one; with none, on how much that is assumed it rests."""
    assumed, count = assumed_share(draft, name)
    rests = f"{assumed} of the {count} figures behind it are assumed" if assumed else ""
    return [f"{one.part}: {one.finding}" for one in answer.objections[:1]] or [rests]


def _bar(draft: Draft, *, sound: bool) -> None:
    """Show what is not saved yet, and the buttons."""
    changed = differences(draft.start, draft.tables)
    with st.container(horizontal=True, key="pier_bar"):
        if is_demo():
            st.button("Start my own pier", type="primary", key="pier_begin", on_click=begin_own)
        else:
            st.button("Save", type="primary", key="pier_save", on_click=save)
        st.button("Discard changes", key="pier_discard", disabled=not changed, on_click=discard)
    if changed:
        how = "" if sound else " Mend what is said above, then save."
        st.warning(f"**Tried out, not saved yet.** What is shown counts these changes.{how}")
        count = "1 figure changed" if len(changed) == 1 else f"{len(changed)} figures changed"
        with st.expander(count, expanded=len(changed) < 7):
            st.markdown(parts.listed(_pretty(f"{figure}: {before} → {after}") for figure, before, after in changed))
    elif is_demo():
        st.caption("An invented pier: change its figures to try things out; to save them, start your own.")


def _pretty(text: str) -> str:
    return text.replace("mm2", "mm²").replace("deg_C", "°C").replace(" m2", " m²")


def _part(answers: Answers | None) -> str:
    """Return the part to show; at first the one with the worst verdict."""
    state, names = st.session_state, list(TABLES)
    if "pier_part_shown" not in state:
        told = {} if answers is None else {name: answer for name, answer in answers.parts.items() if answer is not None}
        state["pier_part_shown"] = max(told, key=lambda name: ORDER.index(told[name].verdict), default=BALANCE)
    held = hold("pier_part", state.get("pier_part") or state["pier_part_shown"])
    picked = st.segmented_control("Part", names, default=held, key="pier_part")
    state["pier_part_shown"] = picked or state["pier_part_shown"]
    return str(state["pier_part_shown"])


def _part_answer(part: str, draft: Draft, setup: PierSetup, answers: Answers) -> None:
    """Show the answer about a part."""
    answer = answers.parts.get(part)
    if part == NIGHT:
        return
    if answer is None:
        st.info("The pier file does not describe this part: fill in below what must be given.")
    elif isinstance(answer, BalancePlan):
        parts.show_balance(draft, setup, answer)
    elif isinstance(answer, Wiring):
        parts.show_wiring(draft, setup, answer, answers.dew)
    else:
        parts.show_column(draft, setup, answer)


def _cautions(part: str) -> None:
    if part in parts.CAUTIONS:
        st.markdown(f"**Caution**\n{parts.listed(parts.CAUTIONS[part])}")
