"""The way back: what a measurement changes in the mount's table and in the advice, and the button that saves it."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any, TypeVar

import streamlit as st

from planner.errors import PlannerError
from planner.files.equipment.edit import write_equipment_table
from planner.files.equipment.history import log_counted
from planner.files.targets.stars import stars_around
from planner.files.writing import version_kept
from planner.measure.error_text import as_read
from planner.measure.pointing.mount import Figures, as_written, table_texts, with_figures
from planner.rig import Mount
from planner.session.advice.change import AdviceChange, advice_change
from planner.ui.choices import Choice, Chosen, equipment_file, said, say_after
from planner.ui.plain import plain

FIGURES = {"periodic": "periodic error on the equator, amplitude (half of peak to peak)",
           "rate_error_ppm": "rate error (ppm)"}
Answer = TypeVar("Answer")


def tried(call: Callable[[], Answer]) -> Answer | None:
    """Return the answer, or show the one line that says what is wrong and return None."""
    try:
        return call()
    except PlannerError as error:
        st.error(str(error))
        return None


@st.cache_data(max_entries=100, show_spinner="Asking for the advice before and after")
def changed_by(key: Choice, changes: str, _chosen: Chosen, _mount: Mount) -> AdviceChange:
    """Return the advice before and after; the cache is keyed on what was chosen and on the changes as text."""
    rig, target = _chosen.rig, _chosen.target
    stars = stars_around(target, rig)
    return advice_change(rig, replace(rig, mount=_mount), _chosen.site, target, _chosen.night, stars=stars)


def saving(chosen: Chosen, values: Mapping[str, Any], rows: Sequence[Mapping[str, str]], notes: Sequence[str],
           key: str, *, mount: Mount, demo: bool, seen: bool = True, doubtful: bool = False, log: str = "") -> None:
    """Show what would change in the mount's table and in the advice, and save it when asked.

    Parameters
    ----------
    chosen : Chosen
        Its rig's mount is the one that was measured.
    values : mapping of str to value
        New values by key of the mount's table.
    rows : sequence of mappings
        The same as texts: key, before, after; only what changes.
    notes : sequence of str
        What the measurement could not tell.
    key : str
        Of the widgets.
    mount : Mount
        As it is with the values.
    demo : bool
        Whether the measurement is the demo's, which is never saved.
    seen : bool
        Whether this part of the page is in front; a hidden one does not ask for the advice.
    doubtful : bool
        Whether the measurement is saved only once the observer says that it is right.
    log : str
        Fingerprint of a log that is weighed with what was known: saved again it would count twice. Empty: any number
        of times.
    """
    before = chosen.rig.mount
    st.subheader(plain(f'Save to the mount "{before.name}"'), anchor=False)
    saved = said(f"saved_{key}")
    if saved is not None:
        st.success(plain(saved[0]))
    counted = log_counted(equipment_file(), before.name, log) if log and not chosen.equipment.is_demo else None
    if counted is not None:
        st.info(plain(counted.sentence))
        return
    if rows:
        st.table([{"figure": _named(row["key"]), **{name: as_read(row[name]) for name in ("before", "after")}}
                  for row in rows])
    for note in notes:
        st.caption(plain(note))
    if not values or not rows:
        if saved is None:
            st.info("The table says as much already: nothing to save.")
        return
    if not seen:
        return
    change = tried(lambda: changed_by(chosen.key, f"{key}{list(rows)}", chosen, mount))
    if change is None:
        return
    st.markdown(f"**Once saved:** {plain(change.sentence)}")
    own = not (demo or chosen.equipment.is_demo)
    sure = not doubtful or st.toggle("The measurement is right in spite of the doubts above", False, key=f"sure_{key}")
    if st.button("Save into my equipment", key=f"save_{key}", disabled=not (own and sure), type="primary"):
        _save(before, values, change, key, log)
    if chosen.equipment.is_demo:
        st.caption('The demo equipment cannot be changed. Describe your own on the page “My equipment”, and measured '
                   "values can be saved there.")
    elif demo:
        st.caption("This is the demo's measurement, of a mount that is not yours: hand in your own to save it.")


def _named(key: str) -> str:
    """Return a key of the mount's table, and what became of it, in words."""
    name, _, state = key.partition(": ")
    words = FIGURES.get(name, name.replace("_", " "))
    return f"{words}: {state}" if state else words


def _save(mount: Mount, values: Mapping[str, Any], change: AdviceChange, key: str, log: str) -> None:
    path = tried(lambda: write_equipment_table(equipment_file(), "mount", mount.name, values, log=log, measured=True))
    if path is not None:
        say_after(f"saved_{key}", f"Saved in {path.name}{version_kept(path)}. {change.sentence}")
        st.rerun()


def save_figures(chosen: Chosen, figures: Figures, notes: Sequence[str], key: str, *, demo: bool, seen: bool = True,
                 doubtful: bool = False) -> None:
    """Show and save figures with their errors; parameters of `saving`."""
    mount, texts = chosen.rig.mount, as_written(figures)
    rows = [{"key": name, "before": before, "after": texts[name]}
            for name, before in table_texts(mount, figures).items() if before != texts[name]]
    saving(chosen, texts, rows, notes, key, mount=with_figures(mount, figures), demo=demo,
           seen=seen, doubtful=doubtful)
