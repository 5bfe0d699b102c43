"""Every session that counts against the standard, one student picked out."""

from __future__ import annotations

import altair as alt

from pipeline.charts.chart import Chart, Rows
from pipeline.charts.look import (
    HEIGHT,
    HELD,
    INK,
    VERMILION,
    Drawing,
    edge_of_the_standard,
    ratio_axis,
    weeks_axis,
)

CHOSEN = (
    "datum.aspect == aspect && (cohort == 'all' || datum.cohort == cohort)"
    " && (stage == 'all' || datum.stage == stage) && (device == 'all' || datum.device_id == device)"
    " && datum.weeks_ago < weeks"
)
BAND = (
    "datum.aspect == aspect && datum.cohort == (student == 'none' ? cohort : student_cohort)"
    " && datum.weeks_ago < weeks"
)
PICKED = "datum.aspect == aspect && datum.student_id == student && datum.weeks_ago < weeks"


def draw() -> Drawing:
    """Small rings for all sessions, the picked student's as a line over the cohort's middle half."""
    band = (
        alt.Chart(alt.NamedData("weeks"))
        .transform_filter(BAND)
        .mark_area(color=INK, opacity=0.12)
        .encode(x=weeks_axis("week"), y=ratio_axis("q1"), y2="q3")
    )
    tooltip = [
        alt.Tooltip("student_id:N", title="student"),
        alt.Tooltip("session_id:N", title="session"),
        alt.Tooltip("utcyearmonthdate(session_date):T", title="date", format="%-d %b %Y"),
        alt.Tooltip("tolerance_ratio:Q", title="times the tolerance", format=".2f"),
        alt.Tooltip("maneuver_count:Q", title="maneuvers"),
        alt.Tooltip("device_id:N", title="device"),
    ]
    x, y = weeks_axis("weeks_in"), ratio_axis("drawn_ratio")
    base = alt.Chart(alt.NamedData("sessions"))
    rings = (
        base.transform_filter(CHOSEN)
        .mark_point(size=24, strokeWidth=1, color=INK, opacity=0.45)
        .encode(x=x, y=y, tooltip=tooltip)
    )
    picked = base.transform_filter(PICKED)
    line = picked.mark_line(color=VERMILION).encode(x=x, y=y)
    marks = picked.mark_point(
        shape="diamond", filled=True, size=90, color=VERMILION, opacity=1
    ).encode(x=x, y=y, tooltip=tooltip)
    return alt.layer(
        band,
        edge_of_the_standard(),
        rings,
        line,
        marks,
        width="container",
        height=HEIGHT + 40,
        title=HELD,
    )


CHART = Chart(
    name="session_points",
    title="Every session, and one student's",
    reading=(
        "Each ring is one session that counts; diamonds joined by a line are the chosen student's, and the "
        "grey band is the middle half of that student's cohort in the same weeks."
    ),
    description=(
        "Point chart: tolerance ratio of every session by date; the chosen student's sessions are joined "
        "by a line over a band, the middle half of the cohort. The chosen student's sessions are in the "
        "table below it."
    ),
    rows={
        "sessions": Rows(
            "page_session_points",
            (
                "student_id",
                "aspect",
                "session_id",
                "session_date",
                "cohort",
                "stage",
                "device_id",
                "tolerance_ratio",
                "drawn_ratio",
                "maneuver_count",
                "weeks_ago",
                "weeks_in",
            ),
        ),
        "weeks": Rows("page_cohort_weeks", ("cohort", "aspect", "week", "weeks_ago", "q1", "q3")),
    },
    draw=draw,
    choices={
        "aspect": "altitude",
        "cohort": "all",
        "stage": "all",
        "device": "all",
        "weeks": 1000,
        "student": "none",
        "student_cohort": "none",
    },
)
