"""One maneuver as strips over time: what the aeroplane did and what the student's hand did."""

from __future__ import annotations

import altair as alt

from pipeline.charts.chart import Chart, Rows
from pipeline.charts.look import BLUE, GREEN, INK, VERMILION, Drawing

FIRST_WITH_UNIT = "datum.value === 0 ? datum.label + ' s' : datum.label"

SECONDS = alt.X(
    "t_s:Q", title=None, axis=alt.Axis(tickCount=8, format="d", labelExpr=FIRST_WITH_UNIT)
)
"""Seconds from the maneuver's start."""

TRIM_SPAN = 0.05
"""The axis of trim spans at least this much of its travel."""

MINE = "datum.maneuver_id == maneuver && datum.channel == channel"


def draw() -> Drawing:
    """A trace in its band, shaded where it lay outside, with the moments of settling."""
    spans = (
        alt.Chart(alt.NamedData("spans"))
        .transform_filter(MINE)
        .mark_rect(color=VERMILION, opacity=0.16)
        .encode(
            x=alt.X("start_s:Q", title=None),
            x2="end_s",
            tooltip=[
                alt.Tooltip("side:N", title="outside"),
                alt.Tooltip("start_s:Q", title="from, s"),
                alt.Tooltip("end_s:Q", title="to, s"),
            ],
        )
    )
    edges = (
        alt.Chart(alt.NamedData("edges"))
        .transform_filter(MINE)
        .mark_rule(color=INK, strokeWidth=1)
        .encode(
            y="value:Q",
            strokeDash=alt.StrokeDash(
                "edge:N",
                scale=alt.Scale(domain=["target", "tolerance"], range=[[1, 0], [4, 3]]),
                legend=None,
            ),
        )
    )
    moments = alt.Chart(alt.NamedData("moments")).transform_filter(
        "datum.maneuver_id == maneuver && datum.t_s != null"
    )
    marks = moments.mark_rule(color=GREEN, strokeWidth=1.5, strokeDash=[6, 2]).encode(x=SECONDS)
    words = moments.mark_text(
        align="left", baseline="top", dx=3, fontSize=11, fontStyle="italic"
    ).encode(x=SECONDS, y=alt.value(0), text="moment:N")
    trace = (
        alt.Chart(alt.NamedData("points"))
        .transform_filter(MINE)
        .mark_line(color=BLUE, strokeWidth=1.5)
        .encode(
            x=SECONDS,
            y=alt.Y(
                "value:Q",
                title=None,
                axis=alt.Axis(tickCount=4),
                scale=alt.Scale(zero=False, nice=False, padding=7),
            ),
            tooltip=[
                alt.Tooltip("t_s:Q", title="second"),
                alt.Tooltip("value:Q", title="value"),
            ],
        )
    )
    return alt.layer(spans, edges, marks, words, _least(), trace, width="container", height=96)


def _least() -> alt.Chart:
    """Nothing to see: it widens the axis of trim, so that a breath of the recorder looks like one."""
    widened: alt.Chart = (
        alt.Chart(alt.NamedData("points"))
        .transform_filter(f"{MINE} && datum.channel == 'pitch_trim'")
        .transform_aggregate(low="min(value)", high="max(value)")
        .transform_filter("isValid(datum.low)")
        .transform_calculate(
            bottom=f"(datum.low + datum.high - {TRIM_SPAN}) / 2",
            top=f"(datum.low + datum.high + {TRIM_SPAN}) / 2",
        )
        .mark_rule(opacity=0)
        .encode(y=alt.Y("bottom:Q", title=None), y2="top")
    )
    return widened


CHART = Chart(
    name="maneuver_strips",
    title="One maneuver, second by second",
    reading=(
        "Time runs in seconds from the maneuver's start; dashed lines are the tolerance of altitude and "
        "heading, what counts as level for the vertical speed, and as trimmed for the control; shaded "
        "stretches lie outside the tolerance, and a line that breaks off means that nothing was recorded "
        "there."
    ),
    description=(
        "Line chart of one recorded quantity against seconds since the maneuver's start, with the "
        "tolerance and the stretches outside it. The figures of the maneuver are in the table below."
    ),
    rows={
        "points": Rows(
            "page_trace_points", ("maneuver_id", "channel", "t_s", "value"), of_student=True
        ),
        "spans": Rows(
            "page_trace_spans",
            ("maneuver_id", "channel", "side", "start_s", "end_s"),
            of_student=True,
        ),
        "edges": Rows(
            "page_trace_edges", ("maneuver_id", "channel", "edge", "value"), of_student=True
        ),
        "moments": Rows("page_trace_moments", ("maneuver_id", "moment", "t_s"), of_student=True),
    },
    draw=draw,
    choices={"maneuver": "", "channel": "altitude"},
)
