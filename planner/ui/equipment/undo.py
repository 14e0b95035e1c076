"""What changes of the equipment did, the last one and those of each part, with buttons that put back what was."""

from collections.abc import Callable
from functools import partial

import streamlit as st

from planner.errors import PlannerError
from planner.files.equipment.history import Earlier, last_change, put_back, put_table_back, table_history
from planner.ui.choices import equipment_file
from planner.ui.plain import plain

SHOWN = 12  # changes of a part


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


def offer_history(kind: str, name: str, done: Callable[[Callable[[], str]], None]) -> None:
    """Show what was changed in one part, the latest first, each with a button that puts back what it held before."""
    changes = table_history(equipment_file(), kind, name)
    if not changes:
        return
    with st.expander(f"History of this {kind}", key="gear_history"):
        for place, earlier in enumerate(changes[:SHOWN]):
            with st.container(horizontal=True, vertical_alignment="center"):
                what = "; ".join(earlier.lines) or "written again"
                st.markdown(plain(f"{earlier.at:%Y-%m-%d %H:%M} UTC: {what}"))
                st.button("Put back", key=f"gear_back_{place}", on_click=done,
                          args=(partial(_put_table_back, kind, name, earlier),),
                          help=f"Writes this {kind} as it was before that change.")
        if len(changes) > SHOWN:
            st.caption(f"and {len(changes) - SHOWN} more before these")


def _put_table_back(kind: str, name: str, earlier: Earlier) -> str:
    put_table_back(equipment_file(), kind, name, earlier)
    return f"The {kind} is as it was before {earlier.at:%Y-%m-%d %H:%M} UTC. Its history undoes this."


def _put_back() -> str:
    return f"The version before is back in {put_back(equipment_file())}. The same button undoes this."
