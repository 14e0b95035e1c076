"""The guided set-up: one page from site to rig to verdict; nothing counts that the observer has not said."""

from zoneinfo import available_timezones

import streamlit as st

from planner.errors import InvalidInputError, PlannerError
from planner.files.forms.first_equipment import PICKED, Answered, read_answers, time_zone_of, write_first
from planner.files.forms.usual_figures import LABEL
from planner.ui.choices import FIRST_TARGET, equipment_file, has_own_equipment, say_after, show_said
from planner.ui.equipment.horizon_form import ask_for_horizon, horizon_given
from planner.ui.equipment.setup_fields import LABELS, MANY, PICK, SECTIONS, TYPE, Question, option_text
from planner.ui.plain import plain
from planner.ui.settings import hold

COLUMNS = 3
SKYLINE = "setup_horizon"
SHOW_OPEN = 4  # questions that the line of progress names


def page() -> None:
    """Show the page."""
    if "setup_then" in st.session_state:
        st.switch_page(st.session_state["pages"][st.session_state.pop("setup_then")])
    draft: dict[str, str] = st.session_state.setdefault("setup_draft", {})
    _propose_zone(draft)
    found = read_answers(draft)
    st.header("Your site and your rig" if not has_own_equipment() else "Another site and rig, beside what you have",
              anchor=False)
    _progress(found)
    for title, questions in SECTIONS:
        asked = [question for question in questions if question.key in found.asked]
        with st.container():  # what stands below keeps its place when a question more is asked
            st.subheader(title, anchor=False)
            for start in range(0, len(asked), COLUMNS):
                for column, question in zip(st.columns(COLUMNS), asked[start: start + COLUMNS], strict=False):
                    with column:
                        _ask(question, draft, found)
    st.caption(f"Words stand for the figures beside them: {LABEL}. Each can be replaced on the page My equipment, best "
               "by a measurement.")
    with st.expander("4  Your skyline: what stands in the way of low stars (can wait)"):
        ask_for_horizon(SKYLINE)
    _buttons()


def _progress(found: Answered) -> None:
    done = len(found.asked) - len(found.missing) - len(found.problems)
    still = [LABELS[key].lower() for key in found.missing]
    more = f" and {len(still) - SHOW_OPEN} more" if len(still) > SHOW_OPEN else ""
    text = f"{done} of {len(found.asked)} answered" + (f"; open: {', '.join(still[:SHOW_OPEN])}{more}" if still else "")
    st.progress(done / len(found.asked), text=text)


def _ask(question: Question, draft: dict[str, str], found: Answered) -> None:
    """Show one question with its reason below, or what is wrong with its answer."""
    widget = f"setup_{question.key}"
    common = {"key": widget, "on_change": _keep, "args": (question,)}
    answer = draft.get(question.key, "")
    if question.way == TYPE:
        st.text_input(question.label, hold(widget, answer), placeholder=f"e.g. {question.example}", **common)
    elif question.way == MANY:
        held = hold(widget, [one for one in answer.split(";") if one in PICKED["filters"]])
        st.multiselect(question.label, list(PICKED["filters"]), held, placeholder="choose",
                       format_func=lambda option: option_text(question.key, option), **common)
    elif question.way == PICK:
        options = list(PICKED[question.key])
        held = hold(widget, answer if answer in options else None)
        st.selectbox(question.label, options, None if held is None else options.index(held), placeholder="choose",
                     format_func=lambda option: option_text(question.key, option), **common)
    else:
        _ask_zone(question, answer)
    problem = found.problems.get(question.key)
    if problem is not None:
        st.error(plain(_in_words(problem)))
    elif question.why:
        st.caption(question.why)


def _in_words(problem: InvalidInputError) -> InvalidInputError:
    """Return a problem with the label of its question in place of the key."""
    return InvalidInputError(LABELS.get(problem.name, problem.name), problem.value, problem.rule, problem.remedy)


def _ask_zone(question: Question, zone: str) -> None:
    """Show the list of time zones; every proposal has a list of its own.

    The browser keeps a long list that it was sent before, and what it was told to show then it does not show again.
    """
    state, options = st.session_state, sorted(available_timezones())
    widget = f"setup_zone {state.get('setup_zone_turn', 0)} {'' if state.get('setup_zone_chosen') else zone}"
    st.selectbox(question.label, options, index=options.index(zone) if zone in options else None, placeholder="choose",
                 key=widget, on_change=_keep_zone, args=(question, widget))


def _keep_zone(question: Question, widget: str) -> None:
    """Keep the zone that was chosen; a list that was emptied gives way to one with the proposal."""
    state = st.session_state
    zone = state.get(widget) or ""
    state["setup_draft"][question.key], state["setup_zone_chosen"] = zone, bool(zone)
    state["setup_zone_turn"] = state.get("setup_zone_turn", 0) + (not zone)


def _keep(question: Question) -> None:
    """Keep an answer; one of several is kept with semicolons between."""
    value = st.session_state.get(f"setup_{question.key}")
    st.session_state["setup_draft"][question.key] = ";".join(value) if isinstance(value, list) else value or ""


def _propose_zone(draft: dict[str, str]) -> None:
    """Fill the time zone from the place, unless the observer has chosen one."""
    if st.session_state.get("setup_zone_chosen"):
        return
    place = read_answers(draft).values
    if "latitude" in place and "longitude" in place:
        zone = time_zone_of(place["latitude"], place["longitude"])
        st.session_state.setdefault("setup_zone_chosen", draft.get("time_zone", zone) != zone)  # by a page left
        if not st.session_state["setup_zone_chosen"]:
            draft["time_zone"] = zone


def _buttons() -> None:
    show_said("setup_said")
    with st.container(horizontal=True):
        st.button("Save and show the verdict", type="primary", key="setup_save", on_click=_save,
                  args=("decide.advice_page",))
        st.button("Save and plan tonight", key="setup_tonight", on_click=_save, args=("night.tonight_page",))
    st.caption("Written to your own file on this machine; nothing that is there already is changed.")


def _save(then: str) -> None:
    """Write what the page holds at this moment: what was typed just before the click has not been seen yet."""
    state = st.session_state
    for _, questions in SECTIONS:
        for question in questions:
            if f"setup_{question.key}" in state:
                value = state[f"setup_{question.key}"]
                state["setup_draft"][question.key] = ";".join(value) if isinstance(value, list) else value or ""
    _propose_zone(state["setup_draft"])
    try:
        _, rig, site = write_first(equipment_file(), state["setup_draft"], horizon_given(SKYLINE))
    except InvalidInputError as error:
        told = _in_words(error)
        text = f"{told.name} is still open." if error.value == "(missing)" else str(told)
        say_after("setup_said", f"Not saved yet: {text}", done=False)
        return
    except PlannerError as error:
        say_after("setup_said", str(error), done=False)
        return
    state["choice_rig"], state["choice_site"], state["setup_then"] = rig, site, then
    state["setup_draft"] = {}
    state["target_open"] = state["choice_target"] == FIRST_TARGET
