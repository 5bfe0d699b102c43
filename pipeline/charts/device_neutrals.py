"""Where each device's pitch control rests, day by day."""

from __future__ import annotations

import altair as alt

from pipeline.charts.chart import Chart, Rows
from pipeline.charts.look import DASHES, INK, SERIES, SHAPES, Drawing, day_axis


def draw() -> Drawing:
    """A line with its uncertainty for each device, and the line at nothing held."""
    centre = alt.Chart(alt.InlineData(values=[{"rest": 0}])).mark_rule(color=INK).encode(y="rest:Q")
    base = alt.Chart().transform_filter("device == 'all' || datum.device_id == device")
    color = alt.Color(
        "device_id:N", scale=alt.Scale(range=list(SERIES)), legend=alt.Legend(title=None)
    )
    x = day_axis("session_date")
    rest = alt.Y("pitch_neutral:Q", title=None, axis=alt.Axis(format="+.2f", tickCount=6))
    bars = base.mark_rule(strokeWidth=1.5, opacity=0.5).encode(
        x=x, y=alt.Y("neutral_low:Q", title=None), y2="neutral_high", color=color
    )
    line = base.mark_line().encode(
        x=x,
        y=rest,
        color=color,
        strokeDash=alt.StrokeDash(
            "device_id:N", scale=alt.Scale(range=[list(d) for d in DASHES]), legend=None
        ),
    )
    points = base.mark_point(filled=True, size=45, opacity=1).encode(
        x=x,
        y=rest,
        color=color,
        shape=alt.Shape(
            "device_id:N", scale=alt.Scale(range=list(SHAPES)), legend=alt.Legend(title=None)
        ),
        tooltip=[
            alt.Tooltip("device_id:N", title="device"),
            alt.Tooltip("utcyearmonthdate(session_date):T", title="date", format="%-d %b %Y"),
            alt.Tooltip("pitch_neutral:Q", title="rests at", format="+.3f"),
            alt.Tooltip("student_count:Q", title="students"),
        ],
    )
    return alt.layer(
        centre,
        bars,
        line,
        points,
        data=alt.NamedData("neutrals"),
        width="container",
        height=240,
        title=["where the pitch control rests,", "in fractions of its travel (+ is toward a pull)"],
    )


CHART = Chart(
    name="device_neutrals",
    title="Where the controls rest",
    reading=(
        "Each line is where a device's pitch control rests when nothing is held, as level flights of several "
        "students tell; away from 0 the stick is off centre, and students are not charged for it."
    ),
    description=(
        "Line chart: neutral of the pitch control by day, one line for each device, with one standard "
        "error up and down. The same figures are in the table below it."
    ),
    rows={
        "neutrals": Rows(
            "page_device_days",
            (
                "device_id",
                "session_date",
                "pitch_neutral",
                "neutral_low",
                "neutral_high",
                "student_count",
            ),
        )
    },
    draw=draw,
    choices={"device": "all"},
    series="device_id",
)
