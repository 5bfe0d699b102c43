"""Groups of students week by week: cohorts, stages, lessons or devices, laid side by side."""

from __future__ import annotations

import altair as alt

from pipeline.charts.chart import Chart, Rows
from pipeline.charts.look import (
    DASHES,
    HEIGHT,
    HELD,
    SERIES,
    SHAPES,
    Drawing,
    edge_of_the_standard,
    ratio_axis,
    weeks_axis,
)

CHOSEN = (
    "datum.aspect == aspect && datum.grouping == grouping && datum.device_class == device_class"
    " && (panel == 0 || datum.panel_no == panel)"
)


def draw() -> Drawing:
    """A line of medians over a band of quartiles for each group."""
    base = alt.Chart().transform_filter(CHOSEN)
    shown = alt.Legend(title=None, orient="top", columns=3)
    color = alt.Color("group_value:N", scale=alt.Scale(range=list(SERIES)), legend=shown)
    x = weeks_axis("week")
    band = base.mark_area(opacity=0.12).encode(x=x, y=ratio_axis("q1"), y2="q3", color=color)
    line = base.mark_line().encode(
        x=x,
        y=ratio_axis("median"),
        color=color,
        strokeDash=alt.StrokeDash(
            "group_value:N", scale=alt.Scale(range=[list(d) for d in DASHES]), legend=None
        ),
    )
    points = base.mark_point(filled=True, size=60, opacity=1).encode(
        x=x,
        y=ratio_axis("median"),
        color=color,
        shape=alt.Shape("group_value:N", scale=alt.Scale(range=list(SHAPES)), legend=shown),
        tooltip=[
            alt.Tooltip("group_value:N", title="group"),
            alt.Tooltip("week:Q", title="week since the start"),
            alt.Tooltip("median:Q", format=".2f"),
            alt.Tooltip("q1:Q", title="first quartile", format=".2f"),
            alt.Tooltip("q3:Q", title="third quartile", format=".2f"),
            alt.Tooltip("student_count:Q", title="students"),
        ],
    )
    return alt.layer(
        edge_of_the_standard(),
        band,
        line,
        points,
        data=alt.NamedData("groups"),
        width="container",
        height=HEIGHT + 40,
        title=HELD,
    )


CHART = Chart(
    name="group_curves",
    title="Group by group",
    reading=(
        "Each line is the median student of a group in that week and the band is the middle half; a line "
        "below another holds closer, and where bands overlap widely the groups can hardly be told apart."
    ),
    description=(
        "Line chart: tolerance ratio by week since the start, one line of medians with a band of quartiles "
        "for each group. The same figures are in the table below it."
    ),
    rows={
        "groups": Rows(
            "page_group_weeks",
            (
                "grouping",
                "group_value",
                "device_class",
                "aspect",
                "week",
                "median",
                "q1",
                "q3",
                "student_count",
                "panel_no",
            ),
        )
    },
    draw=draw,
    choices={"aspect": "altitude", "grouping": "cohort", "device_class": "simulator", "panel": 0},
    series="group_value",
    series_where="datum.grouping == grouping",
)
