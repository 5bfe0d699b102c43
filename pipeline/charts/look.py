"""How charts look: one ink that follows the page, few colours that stay apart for every eye."""

from __future__ import annotations

from typing import Any, Final

import altair as alt

Drawing = alt.LayerChart | alt.FacetChart
"""What Altair gives back for layers."""

INK: Final = "currentColor"
"""The page's own text colour: dark on paper, light on a dark screen, black in print."""

# Okabe and Ito, Color Universal Design (2008): told apart with any colour vision. Yellow, orange and sky
# blue are left out: too faint on white paper. Shape or dash always says the same as colour.
BLUE: Final = "#0072B2"
VERMILION: Final = "#D55E00"
GREEN: Final = "#009E73"
PURPLE: Final = "#CC79A7"
SERIES: Final = (BLUE, VERMILION, GREEN, PURPLE, "#7F7F7F")
SHAPES: Final = (
    "circle",
    "diamond",
    "square",
    "triangle-up",
    "cross",
    "triangle-down",
    "triangle-right",
)
DASHES: Final = ((1, 0), (6, 3), (2, 2), (8, 3, 2, 3), (3, 5))

FONT: Final = "system-ui, -apple-system, 'Segoe UI', 'Liberation Sans', sans-serif"
HEIGHT: Final = 260
HELD: Final = "held, in times the standard"
RATIO_TICKS: Final = (0.1, 0.2, 0.5, 1, 2, 5, 10)


def config() -> dict[str, Any]:
    """The Vega-Lite configuration that every chart carries."""
    text = {"labelColor": INK, "titleColor": INK, "labelFontSize": 12, "titleFontSize": 12}
    return {
        "font": FONT,
        "background": None,
        "view": {"stroke": None},
        "axis": {
            **text,
            "titleFontWeight": "normal",
            "domainColor": INK,
            "tickColor": INK,
            "gridColor": INK,
            "gridOpacity": 0.13,
            "labelPadding": 4,
        },
        "axisX": {"grid": False},
        "axisY": {"domain": False, "ticks": False, "minExtent": 40},
        "legend": {**text, "orient": "top", "titleFontWeight": "normal", "symbolStrokeWidth": 2},
        "title": {
            "color": INK,
            "anchor": "start",
            "fontSize": 12,
            "fontWeight": "normal",
            "offset": 8,
            "frame": "group",
        },
        # A screen reader gets the description and the table; hundreds of marks would only delay it.
        "mark": {"aria": False},
        "line": {"strokeWidth": 2},
        "text": {"color": INK, "fontSize": 12},
    }


def ratio_axis(field: str) -> alt.Y:
    """A vertical axis of tolerance ratios: equal steps are equal factors, so that half and double are
    as far from 1.
    """
    axis = alt.Axis(values=list(RATIO_TICKS), format="~g", title=None)
    return alt.Y(
        field, type="quantitative", scale=alt.Scale(type="log", nice=False, padding=8), axis=axis
    )


def day_axis(field: str) -> alt.X:
    """A horizontal axis of days, in UTC like every date on the pages."""
    axis = alt.Axis(format="%-d %b", title=None, labelOverlap=True, tickCount=6)
    return alt.X(field, type="temporal", scale=alt.Scale(type="utc"), axis=axis)


def weeks_axis(field: str) -> alt.X:
    """A horizontal axis of weeks since the students started."""
    axis = alt.Axis(title="week since the start", tickMinStep=1, format="d", labelOverlap=True)
    return alt.X(
        field, type="quantitative", scale=alt.Scale(zero=False, nice=False, padding=14), axis=axis
    )


def edge_of_the_standard() -> Drawing:
    """The line at 1: on it the standard is just met, above it is not."""
    data = alt.InlineData(values=[{"edge": 1, "words": "edge of the standard"}])
    base = alt.Chart(data)
    line = base.mark_rule(color=INK, strokeWidth=1.2).encode(y=alt.Y("edge:Q"))
    words = base.mark_text(align="right", dy=-6, fontStyle="italic", fontSize=11).encode(
        x=alt.value("width"), y=alt.Y("edge:Q"), text="words:N"
    )
    return alt.layer(line, words)


def by_cohort() -> dict[str, Any]:
    """Colour and shape that tell cohorts apart."""
    shown = alt.Legend(title=None, orient="top")
    return {
        "color": alt.Color("cohort:N", scale=alt.Scale(range=list(SERIES)), legend=shown),
        "shape": alt.Shape("cohort:N", scale=alt.Scale(range=list(SHAPES)), legend=shown),
    }
