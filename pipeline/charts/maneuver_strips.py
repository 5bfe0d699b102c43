"""One maneuver as strips over time: what the aeroplane did and what the student's hand did."""

from __future__ import annotations

import altair as alt

from pipeline.charts.chart import Chart, Rows
from pipeline.charts.look import BLUE, GREEN, INK, VERMILION, Drawing

SECONDS = alt.X("t_s:Q", title=None, axis=alt.Axis(tickCount=8, format="d"))
"""Seconds from the maneuver's start."""

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
    return alt.layer(spans, edges, marks, words, trace, width="container", height=96)


CHART = Chart(
    name="maneuver_strips",
    title="One maneuver, second by second",
    reading=(
        "Time runs from the maneuver's start; dashed lines are the tolerance, shaded stretches lie outside "
        "it, and a line that breaks off means that nothing was recorded there."
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
