"""How the app looks: quiet by day, dark or deep red on black in the observatory."""

from typing import Any

import streamlit as st

from planner.charts.theme import use_theme
from planner.ui.first_paint import DARK, DIM_COOKIE, LOOK_COOKIE, LOOKS, RED, SYSTEM, WISH_COOKIE
from planner.ui.settings import hold

_ALWAYS = """
.block-container {padding-top: 3.5rem}
@media (max-width: 640px) {
  .st-key-frame [data-testid="stColumn"] {min-width: calc(50% - 1rem); flex: 1 1 calc(50% - 1rem)}
  .block-container {padding-left: 1rem; padding-right: 1rem}
}
@media (min-width: 641px) and (max-width: 1000px) {
  :is(.st-key-frame, .st-key-shapes, .st-key-picture, .st-key-answer [data-testid="stExpanderDetails"])
    [data-testid="stHorizontalBlock"] {flex-wrap: wrap}
  :is(.st-key-frame, .st-key-answer [data-testid="stExpanderDetails"]) [data-testid="stColumn"] {
    min-width: calc(33% - 1rem)}
  :is(.st-key-shapes, .st-key-picture) [data-testid="stColumn"] {min-width: 100%}
}
h1.page-title {font-size: 1.05rem; font-weight: 600; padding: 0.2rem 0; margin: 0; line-height: 1.9}
h1.page-title .whose {font-weight: 400; border-radius: 0.3rem; padding: 0.1rem 0.5rem; margin-left: 0.4rem;
  border: 1px solid #767676; white-space: nowrap; overflow-wrap: anywhere}
h1.page-title .whose.demo {border: 2px dashed #8a4b00; color: #6b3a00; background: #fff3df; font-weight: 600}
.demo-edge {position: fixed; top: 0; left: 0; right: 0; height: 8px; z-index: 1000001; pointer-events: none;
  background: repeating-linear-gradient(135deg, #8a4b00 0 8px, #fff3df 8px 16px)}
@media (max-width: 640px) {h1.page-title .whose {display: inline-block; max-width: 100%; white-space: normal;
  line-height: 1.4; margin: 0.1rem 0.3rem 0.1rem 0}}
[data-testid="stHeading"] h2 {font-size: 1.65rem; padding: 0.4rem 0}
[data-testid="stHeading"] h3 {font-size: 1.2rem; padding: 0.3rem 0}
[data-testid="stMetricValue"] {font-size: 1.7rem}
[data-testid="stMetricValue"], [data-testid="stMetricValue"] * {
  white-space: normal !important; overflow: visible !important; overflow-wrap: break-word}
[data-testid="stCaptionContainer"], [data-testid="stCaptionContainer"] * {color: #4f565c; opacity: 1}
:is([data-testid="stWidgetLabel"][disabled] p, input:disabled, textarea:disabled) {
  color: #4f565c !important; -webkit-text-fill-color: #4f565c; opacity: 1}
[data-testid="stCheckbox"] label :is(div, p) {white-space: normal; overflow: visible; text-overflow: clip}
.katex-display, p:has(> .katex) {overflow-x: auto; overflow-y: hidden; padding: 0.2rem 0}
[data-testid="stSidebar"] [data-testid="stButtonGroup"] button {padding: 0 0.6rem}
@media print {
  [data-testid="stSidebar"], [data-testid="stHeader"], [data-testid="stDownloadButton"] {display: none}
}
"""
_STALE = """
.st-key-answer {opacity: 0.45}
.st-key-answer [data-testid="stAlertContainer"], .st-key-answer :focus-within {opacity: 1}
"""


def show_look() -> None:
    """Show the choice of the look, with a dimmer for the dark ones, and use it."""
    state = st.session_state
    look = hold("widget_look", state["choice_look"])
    st.segmented_control("Look", LOOKS, default=look, key="widget_look", on_change=_keep_look, required=True,
                         format_func=str.capitalize, help="Red: deep red on black, for eyes that are used to the dark.")
    if state["choice_look"] in (DARK, RED):
        dim = hold("widget_dim", state["choice_dim"])
        st.slider("Brightness", 10, 100, dim, step=5, format="%d %%", key="widget_dim", on_change=_keep_look)
    _use_look(state["choice_look"], state["choice_dim"], dark_wished=st.context.cookies.get(WISH_COOKIE) == "1",
             store=state.get("look_chosen", False))


def take_look(addressed: str | None, *, first: bool) -> None:
    """Take the look from the address, or, as the page opens, what the browser kept."""
    state, kept = st.session_state, st.context.cookies
    if addressed in LOOKS:
        state["choice_look"] = addressed
    elif first:
        look = kept.get(LOOK_COOKIE)
        state["choice_look"] = look if look in LOOKS else SYSTEM
    if first:
        dim = kept.get(DIM_COOKIE, "")
        state["choice_dim"] = min(max(int(dim), 10), 100) if dim.isascii() and dim.isdigit() else 100


def _use_look(look: str, brightness_percent: int, *, dark_wished: bool, store: bool) -> None:
    """Give page and charts one of the looks, whose sheets are in the page from the first paint on (`first_paint`).

    `look`: one of `first_paint.LOOKS`. `brightness_percent`: of a dark look. `dark_wished`: whether the browser's
    system wishes for dark. `store`: whether the browser shall keep it for the next visit.
    """
    st.session_state["dark_paper"] = look in (DARK, RED) or (look == SYSTEM and dark_wished)
    keep_paper()
    st.html(f"<style>{_ALWAYS}</style>")
    st.html(f"<script>window.plannerLook && window.plannerLook('{look}', {brightness_percent}, {int(store)})</script>",
            unsafe_allow_javascript=True)


def _keep_look() -> None:
    state = st.session_state
    state["choice_look"] = state["widget_look"] or SYSTEM
    state["choice_dim"] = state.get("widget_dim", state["choice_dim"])
    state["look_chosen"] = True


def keep_paper() -> None:
    """Give charts the paper of the page's last run: a part of a page that runs by itself has a thread of its own."""
    use_theme(dark_paper=st.session_state.get("dark_paper", False))


def faint_answer(place: Any) -> None:
    """Draw the page's answer faint for this run: it is one to something else than what stands in the fields."""
    place.html(f"<style>{_STALE}</style>")
