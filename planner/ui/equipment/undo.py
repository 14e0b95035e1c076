"""What the last change of the equipment did, and a button that puts the version before back."""

from collections.abc import Callable

import streamlit as st

from planner.errors import PlannerError
from planner.files.equipment_history import last_change, put_back
from planner.ui.choices import equipment_file
from planner.ui.plain import plain


def offer_undo(done: Callable[[Callable[[], str]], None]) -> None:
    """Show the last change and the button; `done` does a piece of work and keeps what there is to say."""
    try:
        lines = last_change(equipment_file())
    except PlannerError:  # a version before that cannot be put back
        return
    if lines:
        with st.expander("The last change", key="gear_last"):
            st.markdown("\n".join(f"- {plain(line)}" for line in lines))
            st.button("Put back the version before", key="gear_undo", on_click=done, args=(_put_back,))


def _put_back() -> str:
    return f"The version before is back in {put_back(equipment_file())}. The same button undoes this."
