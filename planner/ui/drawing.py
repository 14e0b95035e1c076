"""Charts on a page, all drawn alike; one whose question is named is made once for everyone who asks it."""

from collections.abc import Callable, Hashable
from typing import Any

import streamlit as st

from planner.charts.theme import as_drawn, dark_paper


class _Drawn:
    """A chart as the page draws it."""

    def __init__(self, made: Callable[[], dict[str, Any]]) -> None:
        self.to_dict = made


@st.cache_data(max_entries=200, show_spinner=False)
def _kept(key: str, of: Hashable, dark: bool, _make: Callable[[], Any]) -> dict[str, Any]:
    return as_drawn(_make())


def draw(place: Any, chart: Any, key: str, *, width: str = "stretch") -> None:
    """Draw a chart, which says itself what it shows, at a place of the page."""
    place.altair_chart(_Drawn(lambda: as_drawn(chart)), theme=None, width=width, key=key)


def draw_once(place: Any, make: Callable[[], Any], key: str, of: Hashable, *, width: str = "stretch") -> None:
    """Draw a chart that is made once for all that it shows, `of`: plain texts and numbers that tell it from others."""
    place.altair_chart(_Drawn(lambda: _kept(key, of, dark_paper(), make)), theme=None, width=width, key=key)
