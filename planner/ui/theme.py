"""How the app looks: quiet by day, deep red on black in the observatory.

The red look is laid over the finished page as four sheets of light, so that it reaches everything that is ever drawn:
text, inputs, menus, tables, charts. Sheet by sheet, a pixel loses its colour, is turned from light to dark, is lifted
so that pale text stays readable, and keeps its red part only: no green or blue light leaves the screen. White paper
becomes black, body text (238, 0, 0), which is 4.6 to 1 on black by the contrast formula of WCAG 2.1.
"""

import streamlit as st

from planner.charts.theme import use_theme

QUIET, RED = "quiet", "red"

_ALWAYS = """
.block-container {padding-top: 3.5rem}
@media (max-width: 640px) {
  .st-key-frame [data-testid="stColumn"] {min-width: calc(50% - 1rem); flex: 1 1 calc(50% - 1rem)}
  .block-container {padding-left: 1rem; padding-right: 1rem}
}
[data-testid="stMetricValue"] {font-size: 1.7rem}
[data-testid="stMetricValue"], [data-testid="stMetricValue"] * {
  white-space: normal !important; overflow: visible !important; overflow-wrap: break-word}
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
