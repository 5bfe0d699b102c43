"""One student's sessions in one aspect: each figure, where the student stood, and the standard."""

from __future__ import annotations

import altair as alt

from pipeline.charts.chart import Chart, Rows
from pipeline.charts.look import (
    BLUE,
    HELD,
    INK,
    VERMILION,
    Drawing,
    edge_of_the_standard,
    ratio_axis,
    weeks_axis,
)

COUNTS = "counts"
LEFT_OUT = "left out"


def draw() -> Drawing:
    """Diamonds for sessions, a line with an interval for the level, a band for the cohort."""
    cohort = (
        alt.Chart(alt.NamedData("weeks"))
        .transform_filter("datum.aspect == aspect")
        .mark_area(color=INK, opacity=0.1)
        .encode(x=weeks_axis("week"), y=ratio_axis("q1"), y2="q3")
    )
    base = alt.Chart(alt.NamedData("sessions")).transform_filter("datum.aspect == aspect")
    x = weeks_axis("weeks_in")
    level = base.transform_filter("datum.level_ratio != null")
    interval = level.mark_area(color=BLUE, opacity=0.18).encode(
        x=x, y=ratio_axis("level_low"), y2="level_high"
    )
    line = level.mark_line(color=BLUE).encode(x=x, y=ratio_axis("level_ratio"))
    sessions = (
        base.transform_filter("datum.tolerance_ratio != null")
        .transform_calculate(standing=f"datum.is_counted ? '{COUNTS}' : '{LEFT_OUT}'")
        .mark_point(size=70, strokeWidth=1.6, color=VERMILION, opacity=1)
        .encode(
            x=x,
            y=ratio_axis("drawn_ratio"),
            shape=alt.Shape(
                "standing:N",
                scale=alt.Scale(domain=[COUNTS, LEFT_OUT], range=["diamond", "cross"]),
                legend=alt.Legend(title=None, orient="top"),
            ),
            tooltip=[
                alt.Tooltip("session_id:N", title="session"),
                alt.Tooltip("utcyearmonthdate(session_date):T", title="date", format="%-d %b %Y"),
                alt.Tooltip("tolerance_ratio:Q", title="times the tolerance", format=".2f"),
                alt.Tooltip("maneuver_count:Q", title="maneuvers"),
                alt.Tooltip("device_id:N", title="device"),
                alt.Tooltip("air:N"),
                alt.Tooltip("figure_reason:N", title="left out"),
            ],
        )
    )
    return alt.layer(
        cohort,
        edge_of_the_standard(),
        interval,
        line,
        sessions,
        width="container",
        height=200,
        title=HELD,
    )


CHART = Chart(
    name="student_sessions",
    title="Session by session",
    reading=(
        "Diamonds are sessions, crosses are sessions left out; the line is where the student stood after "
        "each, with an 80 % interval, and the grey band is the middle half of the cohort."
    ),
    description=(
        "Chart of one student's tolerance ratio by session, with a line and an 80 % interval for the level, "
        "a band for the middle half of the cohort and a line at 1, the edge of the standard. The same "
        "figures are in the table of sessions."
    ),
    rows={
        "sessions": Rows(
            "page_student_sessions",
            (
                "aspect",
                "session_id",
                "session_date",
                "weeks_in",
                "tolerance_ratio",
                "drawn_ratio",
                "maneuver_count",
                "is_counted",
                "figure_reason",
                "device_id",
                "air",
                "level_ratio",
                "level_low",
                "level_high",
            ),
            of_student=True,
        ),
        "weeks": Rows("page_cohort_weeks", ("cohort", "aspect", "week", "q1", "q3")),
    },
    draw=draw,
    choices={"aspect": "altitude"},
)
