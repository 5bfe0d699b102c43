"""Cohorts over the weeks: how far inside or outside the standard the middle half of the students was."""

from __future__ import annotations

import altair as alt

from pipeline.charts.chart import Chart, Rows
from pipeline.charts.look import (
    DASHES,
    HEIGHT,
    HELD,
    Drawing,
    by_cohort,
    edge_of_the_standard,
    ratio_axis,
    weeks_axis,
)

CHOSEN = (
    "datum.aspect == aspect && (cohort == 'all' || datum.cohort == cohort) && datum.weeks_ago < weeks"
    " && (panel == 0 || datum.panel_no == panel)"
)


def draw() -> Drawing:
    """A line of medians and a band of quartiles for each cohort."""
    base = alt.Chart().transform_filter(CHOSEN)
    band = base.mark_area(opacity=0.15).encode(
        x=weeks_axis("week"),
        y=ratio_axis("q1"),
        y2="q3",
        color=by_cohort()["color"],
    )
    line = base.mark_line().encode(
        x=weeks_axis("week"),
        y=ratio_axis("median"),
        color=by_cohort()["color"],
        strokeDash=alt.StrokeDash(
            "cohort:N", scale=alt.Scale(range=[list(d) for d in DASHES]), legend=None
        ),
    )
    points = base.mark_point(filled=True, size=60, opacity=1).encode(
        x=weeks_axis("week"),
        y=ratio_axis("median"),
        **by_cohort(),
        tooltip=[
            alt.Tooltip("cohort:N"),
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
        data=alt.NamedData("weeks"),
        width="container",
        height=HEIGHT,
        title=HELD,
    )


CHART = Chart(
    name="cohort_trends",
    title="How closely the cohorts hold",
    reading=(
        "Each line is the median student of a cohort week by week and the band is the middle half of the "
        "students; 1 is the edge of the standard, lower is closer."
    ),
    description=(
        "Line chart: tolerance ratio by week, one line of medians with a band of quartiles for each "
        "cohort, and a line at 1, the edge of the standard. The same figures are in the table below it."
    ),
    rows={
        "weeks": Rows(
            "page_cohort_weeks",
            (
                "cohort",
                "aspect",
                "week",
                "weeks_ago",
                "median",
                "q1",
                "q3",
                "student_count",
                "panel_no",
            ),
        )
    },
    draw=draw,
    choices={"cohort": "all", "aspect": "altitude", "weeks": 1000, "panel": 0},
    series="cohort",
)
