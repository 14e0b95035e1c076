"""How the app looks: quiet by day, deep red on black in the observatory.

The red look is laid over the finished page as four sheets of light, so that it reaches everything that is ever drawn:
text, inputs, menus, tables, charts. Sheet by sheet, a pixel loses its colour, is turned from light to dark, is lifted
so that pale text stays readable, and keeps its red part only: no green or blue light leaves the screen. White paper
becomes black, body text (238, 0, 0), which is 4.6 to 1 on black by the contrast formula of WCAG 2.1.
"""

from typing import Any

import streamlit as st

from planner.charts.theme import use_theme

QUIET, RED = "quiet", "red"

_ALWAYS = """
.block-container {padding-top: 3.5rem}
@media (max-width: 640px) {
  .st-key-frame [data-testid="stColumn"] {min-width: calc(50% - 1rem); flex: 1 1 calc(50% - 1rem)}
  .block-container {padding-left: 1rem; padding-right: 1rem}
}
h1.page-title {font-size: 1.05rem; font-weight: 600; padding: 0.2rem 0; margin: 0; line-height: 1.9}
h1.page-title .whose {font-weight: 400; border-radius: 0.3rem; padding: 0.1rem 0.5rem; margin-left: 0.4rem;
  border: 1px solid #767676; white-space: nowrap; overflow-wrap: anywhere}
h1.page-title .whose.demo {border: 2px dashed #8a4b00; color: #6b3a00; background: #fff3df; font-weight: 600}
.demo-edge {position: fixed; top: 0; left: 0; right: 0; height: 8px; z-index: 1000001; pointer-events: none;
  background: repeating-linear-gradient(135deg, #8a4b00 0 8px, #fff3df 8px 16px)}
@media (max-width: 640px) {h1.page-title .whose {white-space: normal}}
[data-testid="stHeading"] h2 {font-size: 1.65rem; padding: 0.4rem 0}
[data-testid="stHeading"] h3 {font-size: 1.2rem; padding: 0.3rem 0}
[data-testid="stMetricValue"] {font-size: 1.7rem}
[data-testid="stMetricValue"], [data-testid="stMetricValue"] * {
  white-space: normal !important; overflow: visible !important; overflow-wrap: break-word}
[data-testid="stCaptionContainer"], [data-testid="stCaptionContainer"] * {color: #565d64; opacity: 1}
.katex-display {overflow-x: auto; overflow-y: hidden; padding: 0.2rem 0}
@media print {
  [data-testid="stSidebar"], [data-testid="stHeader"], [data-testid="stDownloadButton"] {display: none}
}
"""
_RED = """
@media screen {
  html::before, body::before, body::after, html::after {
    content: ""; position: fixed; inset: 0; z-index: 2147483647; pointer-events: none}
  html::before {background: #808080; mix-blend-mode: saturation}
  body::before {background: #ffffff; mix-blend-mode: difference}
  body::after {background: #555555; mix-blend-mode: color-dodge}
  html::after {background: #ee0000; mix-blend-mode: multiply}
  [data-testid="stMain"] [role="group"], [data-testid="stTextInputRootElement"], [data-testid="stNumberInputContainer"],
  [data-testid="stExpander"] details, [data-testid="stMain"] button {border-color: #767676}
  [data-testid="stMultiSelect"] [data-tag] {background: transparent; box-shadow: inset 0 0 0 1px currentColor}
  [data-testid="stMultiSelect"] [data-tag], [data-testid="stMultiSelect"] [data-tag] * {color: inherit}
  [data-testid="stAlertContainer"] {border: 1px dashed #767676}
  [data-testid="stCaptionContainer"], [data-testid="stCaptionContainer"] * {color: inherit; opacity: 1}
}
"""
_STALE = """
.st-key-answer {opacity: 0.45}
.st-key-answer [data-testid="stAlertContainer"], .st-key-answer :focus-within {opacity: 1}
"""
_RED_ON_DARK = "@media screen {body::before {display: none}}"  # a page that is dark already is not turned


def use_look(look: str) -> None:
    """Give page and charts one of the two looks for this run."""
    use_theme(dark_paper=look == RED)
    sheets = [_ALWAYS]
    if look == RED:
        sheets.append(_RED)
        if st.context.theme.type == "dark":
            sheets.append(_RED_ON_DARK)
    st.html(f"<style>{''.join(sheets)}</style>")


def faint_answer(place: Any) -> None:
    """Draw the page's answer faint for this run: it is one to something else than what stands in the fields."""
    place.html(f"<style>{_STALE}</style>")
