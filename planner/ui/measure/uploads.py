"""Files handed to a page: kept in memory for the session, never written anywhere."""

import hashlib
from dataclasses import replace
from typing import Any

import streamlit as st

from planner.errors import inert
from planner.files.own_files import packaged_data
from planner.files.reading import InMemory
from planner.ui import whose
from planner.ui.choices import Choice
from planner.ui.plain import plain

CSV = ["csv", "txt"]
LARGEST_LOG_MB = 64
MOST_DIGESTS = 2000  # that a session remembers


def log_or_demo(label: str, key: str, demo: str, *, columns: str, seen: bool = True) -> tuple[InMemory, bool]:
    """Show the uploader of a page and return the file in use, and whether it is the packaged demo.

    A file stays in use when its page is left and shown again, until it is taken out or replaced.

    `key`: of the widget; the file is kept under ``kept_<key>``. `demo`: name of the packaged file that stands in.
    `columns`: what the file holds, for the help. `seen`: whether this part of the page is in front; a hidden one does
    not say whose file it is.
    """
    st.file_uploader(label, type=CSV, key=key, on_change=_keep, args=(key,), max_upload_size=LARGEST_LOG_MB,
                     help=f"CSV with {columns}. It stays in memory and is written nowhere.")
    kept = st.session_state.get(f"kept_{key}")
    if seen:
        whose.about(key, kept is None, f"your file {kept.name}" if kept else "the demo's measurement, not yours")
    if kept is not None:
        if st.session_state.get(key) is None and st.button(f"Remove {plain(kept.name)}", key=f"drop_{key}"):
            keep_file(key, None)
            st.rerun()
        return kept, False
    return InMemory(demo, packaged_data(demo).read_bytes()), True


def keep_file(key: str, file: InMemory | None) -> None:
    """Put a file in use on the page of this uploader; None puts the demo back."""
    st.session_state[f"kept_{key}"] = file


def _keep(key: str) -> None:
    given = st.session_state.get(key)
    keep_file(key, None if given is None else InMemory(inert(given.name), given.getvalue()))


def gear(key: Choice) -> Choice:
    """Return what was chosen of gear and site alone: what a measurement rests on, whatever the target and the night."""
    return replace(key, target="", night="", lowest_altitude_deg=0.0)


def digest(file: InMemory) -> str:
    """Return a short text that is the same for the same name and bytes."""
    return hashlib.blake2b(file.data, digest_size=16, person=b"measure").hexdigest() + file.name


def upload_digest(given: Any) -> str:
    """Return `digest` of an upload, computed once however often the page runs."""
    known = st.session_state.setdefault("upload_digests", {})
    if given.file_id not in known:
        if len(known) >= MOST_DIGESTS:
            known.clear()
        known[given.file_id] = digest(InMemory(inert(given.name), given.getvalue()))
    return str(known[given.file_id])
