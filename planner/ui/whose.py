"""Whose figures a page speaks of, in its heading: the observer's own or the demo's, in words and in look."""

import html

import streamlit as st

GEAR = "gear"


def begin(title: str) -> None:
    """Make room for the heading of a page, its only one of the first order."""
    st.session_state["whose"] = {"title": title, "place": st.empty(), "parts": {}}


def about(part: str, is_demo: bool, name: str) -> None:
    """Say whose a part of the answer is, such as ``your equipment`` or ``the demo's drift log``, and show it.

    A page that has several parts names each; one that is the demo's makes the whole page look so.
    """
    head = st.session_state.get("whose")
    if head is None:  # a page alone, without the frame
        return
    head["parts"][part] = (is_demo, name)
    draw()


def draw() -> None:
    """Show the heading as it is known so far."""
    head = st.session_state["whose"]
    parts = list(head["parts"].values())
    words = "".join(f'<span class="whose {"demo" if is_demo else "own"}">{html.escape(name)}</span>'
                    for is_demo, name in parts)
    lined = '<div class="demo-edge" aria-hidden="true"></div>' if any(is_demo for is_demo, _ in parts) else ""
    head["place"].html(f'{lined}<h1 class="page-title">{html.escape(head["title"])} {words}</h1>')
