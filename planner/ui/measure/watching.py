"""A folder on this computer, watched from the page of test frames: each frame is measured as it arrives."""

from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import dataclass, field
from pathlib import Path

import streamlit as st

from planner.errors import PlannerError, inert
from planner.files.measured.arriving import Arriving
from planner.files.measured.frame_task import Task, measure_file
from planner.measure.frame.model import Measured
from planner.ui.outside import ask
from planner.ui.plain import plain

LOOK_S = 2.0
WATCH = "frame_watch"
LOOPBACK = ("127.0.0.1", "localhost", "::1")


@dataclass
class Watch:
    """A folder that is watched, and the frames of it so far, in the order in which they came."""

    folder: Arriving
    measured: list[Measured] = field(default_factory=list)
    coming: list[tuple[Path, Future[Measured]]] = field(default_factory=list)

    @property
    def keys(self) -> list[str]:
        """A text for each frame: a frame that has come is measured once."""
        return [str(self.folder.folder / item.path.name) for item in self.measured]


def watched() -> Watch | None:
    """Return the folder that is watched in this session."""
    found: Watch | None = st.session_state.get(WATCH)
    return found


def offer_to_watch(task_of: Callable[[Path], Task]) -> None:
    """Show what is watched and how to end it, or else how to begin; `task_of`: how to measure a file."""
    if watched() is not None:
        _follow(task_of)
    elif st.get_option("server.address") in LOOPBACK:  # whoever sees the page sits at the computer
        with st.expander("Watch a folder on this computer", key="frame_watch_begin"):
            left, right = st.columns([4, 1], vertical_alignment="bottom")
            folder = left.text_input("Folder that the frames are written to", key="frame_folder",
                                     help="Each frame in it is measured, and each new one as it arrives.")
            wanted = right.button("Watch it", key="frame_watch_start")
            if wanted:
                try:
                    st.session_state[WATCH] = Watch(Arriving(folder.strip()))
                except PlannerError as error:
                    st.error(plain(error))
                else:
                    st.rerun()


@st.fragment(run_every=LOOK_S)
def _follow(task_of: Callable[[Path], Task]) -> None:
    """Look for new frames again and again, and run the page anew once one is measured."""
    watch = watched()
    if watch is None:  # stopped
        st.rerun()
        return
    watch.coming += [(path, ask(measure_file, task_of(path))) for path in watch.folder.complete()]
    before = len(watch.measured)
    while watch.coming and watch.coming[0][1].done():
        path, future = watch.coming.pop(0)
        try:
            watch.measured.append(future.result())
        except PlannerError as error:
            watch.measured.append(Measured(path, error=error))
    left, right = st.columns([4, 1], vertical_alignment="center")
    more = f", {len(watch.coming)} being measured" if watch.coming else ""
    left.info(plain(f"Watching {inert(str(watch.folder.folder))}: "
                    + (f"{len(watch.measured)} so far{more}." if watch.measured or more else "no frame yet.")))
    right.button("Stop watching", key="frame_watch_stop", on_click=_stop)
    if len(watch.measured) > before:
        st.rerun()


def _stop() -> None:
    st.session_state.pop(WATCH, None)
