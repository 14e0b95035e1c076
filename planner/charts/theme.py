"""One quiet look for every chart: readable in grey, safe for the colour-blind, units on every axis.

The two hues are the blue and the vermilion of Okabe and Ito (2008), "Color Universal Design", which differ in
lightness too, so that they survive a grey print; line style tells them apart as well.
"""

import textwrap
from contextvars import ContextVar
from typing import Any

import altair as alt

BLUE = "#0072B2"
VERMILION = "#D55E00"
GREY = "#5f6b76"
PALE = "#d9dee3"
INK = "#1d2329"  # of text
# The two axes of the mount have hues of their own, of unlike lightness: the bluish green of Okabe and Ito, and purple.
RA_HUE, DEC_HUE = "#009E73", "#6A3D8F"
AXIS_COLOURS = alt.Scale(domain=["RA", "Dec"], range=[RA_HUE, DEC_HUE])
# Where the telescope is, on every page: west of the pier a blue circle, east of it a vermilion square.
WEST_HUE, EAST_HUE = BLUE, VERMILION
UNGUIDED = "unguided"
GUIDED = "guided"
METHOD_COLOURS = alt.Scale(domain=[UNGUIDED, GUIDED], range=[VERMILION, BLUE])
METHOD_DASHES = alt.Scale(domain=[UNGUIDED, GUIDED], range=[[6, 3], [1, 0]])

# Numbers as the texts write them: a blank before the percent sign, a thin one between thousands.
NUMBERS = {"decimal": ".", "thousands": "\u202f", "grouping": [3], "currency": ["", ""], "percent": "\u00a0%"}

LINES = "split(datum.label, '|')"  # the label expression of an axis whose names are `in_lines`


def in_lines(text: str, width: int = 30) -> str:
    """Return a name broken into lines of so many letters, for an axis with `LINES`: none is cut on a phone."""
    return "|".join(textwrap.wrap(text, width))


_DARK_PAPER: ContextVar[bool] = ContextVar("dark_paper", default=False)  # one value for each session's thread


def dark_paper() -> bool:
    """Say whether the paper is shown black and the ink light."""
    return _DARK_PAPER.get()


@alt.theme.register("quiet", enable=False)
def _quiet() -> alt.theme.ThemeConfig:
    # Light where the paper is shown black and the ink light: pictures of stars are drawn the other way round then.
    stars = ["#ffffff", "#0b0e12"] if dark_paper() else ["#0b0e12", "#ffffff"]
    return alt.theme.ThemeConfig({
        "config": {
            "background": "#ffffff",
            "view": {"stroke": None},
            "axis": {"grid": True, "gridColor": "#e8ebee", "domainColor": GREY, "tickColor": GREY,
                     "labelFontSize": 12, "titleFontSize": 12, "titleFontWeight": "normal"},
            "legend": {"labelFontSize": 12, "titleFontSize": 12, "titleFontWeight": "normal", "orient": "top"},
            "header": {"labelFontSize": 12, "titleFontSize": 12},
            "range": {"heatmap": stars},
            "locale": {"number": NUMBERS},
        },
    })


def use_theme(*, dark_paper: bool = False) -> None:
    """Make the quiet look the one in use; `dark_paper` if the page is shown with light and dark exchanged."""
    _DARK_PAPER.set(dark_paper)
    alt.theme.enable("quiet")


def as_drawn(chart: alt.TopLevelMixin) -> dict[str, Any]:
    """Return a chart as the pages' program takes it, its tables as they were last transformed in it.

    It is not held against the schema of charts, which would take a third of a short answer's time.
    """
    spec: dict[str, Any] = chart.to_dict(validate=False)
    return spec | {"datasets": spec.get("datasets", {}) | alt.data_transformers.options.get("datasets", {})}
