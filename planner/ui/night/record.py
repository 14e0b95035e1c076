"""Record what a night brought, in the project file beside the user's own equipment."""

import datetime

import streamlit as st
from astropy import units as u

from planner.checks import Rule
from planner.errors import InvalidInputError, PlannerError
from planner.files.forms.typed import typed_number
from planner.files.projects.edit import record_night
from planner.files.projects.load import project_and_panel
from planner.files.projects.wanted import own_projects, project_of
from planner.files.writing import version_kept
from planner.session.night.done_worth import counted_as_planned
from planner.session.night.model import Block, NightPlan
from planner.session.projects.project import DoneNight, Project
from planner.ui.choices import Chosen
from planner.ui.plain import plain
from planner.visibility.clock import evening_date

FRAMES, LENGTH, WANTED = "Frames kept", "Length of one (s)", "Hours wanted in this filter"
FIELDS = {
    FRAMES: (Rule(at_least=1, at_most=100000, kind="whole", remedy="Give their number."), ""),
    LENGTH: (Rule(at_least=0.01, at_most=7200, remedy="Give seconds, e.g. 300."), ""),
    WANTED: (Rule(at_least=0.01, at_most=10000, remedy="Give the hours that the target is to have in this filter."),
             "Equivalent hours in all, those that the plan counts. Needed where there is none yet."),
}


def record(plan: NightPlan, chosen: Chosen) -> None:
    """Show the form that records frames of this night."""
    with st.expander("Record what was done"):
        if chosen.equipment.is_demo:
            st.info('This is the demo: nothing is recorded. Describe your own equipment on the page “My equipment”, '
                    "and your nights are kept beside it.")
        elif plan.date > evening_date(datetime.datetime.now(datetime.UTC), plan.site):
            st.info("This night has not begun. Record it when its frames are kept.")
        else:
            _form(plan)


def _form(plan: NightPlan) -> None:
    pairs = list(dict.fromkeys((block.target.name, block.band.name) for block in plan.blocks))
    names = list(dict.fromkeys(name for name, _ in pairs))
    top = st.columns(2)
    target = top[0].selectbox("Target of the frames", names, key="record_target")
    bands = [band for name, band in pairs if name == target]
    band = top[1].selectbox("Filter of the frames", bands, key=f"record_filter_{target}")
    own = [block for block in plan.blocks if (block.target.name, block.band.name) == (target, band)]
    with st.form("record_form"):
        columns = st.columns(3)
        mark = f"{plan.date}_{target}_{band}"
        project = project_of(own[0].target, own_projects())
        shown = (str(sum(block.sub_count for block in own)), f"{own[0].sub_exposure.to_value(u.s):g}",
                 _wanted(project, band))
        texts = [place.text_input(label, text, key=f"record_{label}_{mark}", help=about or None,
                                  placeholder="for a new project" if label == WANTED else "")
                 for place, (label, (_, about)), text in zip(columns, FIELDS.items(), shown, strict=True)]
        if not st.form_submit_button("Record", key="record_submit"):
            return
        values: dict[str, float] = {}
        for place, (label, (rule, _)), text in zip(columns, FIELDS.items(), texts, strict=True):
            try:
                if text.strip() or label != WANTED:
                    values[label] = typed_number(label, text, rule)
                elif project is None:
                    raise InvalidInputError("Hours wanted", "none", f"{target} has no project yet", rule.remedy)
            except PlannerError as error:
                place.error(plain(error))
                return
        _write(plan, project.target if project else target, own, int(values[FRAMES]), values[LENGTH],
               values.get(WANTED))


def _wanted(project: Project | None, band: str) -> str:
    hours = 0.0 if project is None else float(project.wanted_time(band).to_value(u.h))
    return f"{hours:g}" if hours > 0 else ""


def _write(plan: NightPlan, target: str, own: list[Block], subs: int, length_s: float, wanted_h: float | None) -> None:
    """Write the record, counted as the plan counts its own frames, and say where."""
    band = own[0].band.name
    try:
        each = length_s * u.s
        done = DoneNight(night=plan.date, filter=band, time=(subs * each).to(u.h), subs=subs, sub_exposure=each,
                         counted=round(counted_as_planned(own, subs * each), 2),
                         panel=project_and_panel(own[0].target.name)[1])
        path = record_night(None, target, done, wanted=None if wanted_h is None else wanted_h * u.h)
    except PlannerError as error:
        st.error(plain(error))
        return
    st.success(f"Recorded in {path.name}: {plain(target)} {plain(band)}, {subs} × {length_s:g} s, counted as "
               f"{done.counted:.2f}{version_kept(path)}. From now on the plan counts what is left.")
