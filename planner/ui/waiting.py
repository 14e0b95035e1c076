"""Waiting for what is worked out outside the pages' process."""

from concurrent.futures import Future, wait
from typing import Any

import streamlit as st

from planner.ui.outside import LostHelperError


def answered(future: Future[Any], shared: Any) -> Any:
    """Return an answer once it is there; who changes a choice meanwhile starts anew.

    `shared` is the cache in which all who ask the same found the future: one that is lost is asked for again next time.
    """
    while not wait((future,), timeout=0.2).done:
        st.session_state.get("chosen")  # here a run that is no longer wanted ends
    if isinstance(future.exception(), LostHelperError):
        shared.clear()
    return future.result()
