"""The list of pages: one page, one question."""

import streamlit as st

from planner.charts.theme import use_theme
from planner.ui import advice_page, match_page


def run() -> None:
    """Show the page that is chosen, with the frame above it."""
    st.set_page_config(page_title="planner", layout="wide")
    use_theme()
    page = st.navigation({
        "Decide": [
            st.Page(match_page.page, title="Choose the combination", url_path="match"),
            st.Page(advice_page.page, title="Guide or not, how long", url_path="advice", default=True),
        ],
    })
    page.run()
