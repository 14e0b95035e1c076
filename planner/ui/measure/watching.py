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
KEPT = "kept_frame_files"  # what was measured, without pixels: it outlives a visit to another page, and the watch
LOOPBACK = ("127.0.0.1", "localhost", "::1")


@dataclass
class Watch:
    """A folder that is watched, and the frames of it so far, in the order in which they came."""

    folder: Arriving
    came: dict[str, Measured] = field(default_factory=dict)  # by a text that tells a frame written anew from the old
    coming: list[tuple[str, Path, Future[Measured]]] = field(default_factory=list)

    @property
    def kept(self) -> tuple[list[Measured], list[str]]:
        """The frames, and a text for each."""
        return list(self.came.values()), list(self.came)

    def take(self, state: str, found: Measured) -> None:
        """Take in a frame that was measured, in place of what was written there before."""
        others = {one: item for one, item in self.came.items() if item.path.name != found.path.name}
        self.came = others | {state: found}


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
    watch.coming += [(watch.folder.state_of(path), path, ask(measure_file, task_of(path)))
                     for path in watch.folder.complete()]
    before = watch.came
    while watch.coming and watch.coming[0][2].done():
        state, path, future = watch.coming.pop(0)
        try:
            watch.take(state, future.result())
        except PlannerError as error:
            watch.take(state, Measured(path, error=error))
    left, right = st.columns([4, 1], vertical_alignment="center")
    more = f", {len(watch.coming)} being measured" if watch.coming else ""
    so_far = f"{len(watch.came)} so far{more}." if watch.came or more else "no frame yet."
    gone = " The folder is not there; it is looked for again and again." if watch.folder.gone else ""
    (left.warning if gone else left.info)(plain(f"Watching {inert(str(watch.folder.folder))}: {so_far}{gone}"))
    right.button("Stop watching", key="frame_watch_stop", on_click=_stop)
    if watch.came is not before:
        st.rerun()


def _stop() -> None:
    """End the watch; what it has measured stays, as of files that were handed in."""
    watch: Watch | None = st.session_state.pop(WATCH, None)
    if watch is not None and watch.came:
        st.session_state[KEPT] = watch.kept
