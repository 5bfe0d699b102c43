"""How soon the aeroplane was trimmed: the share not yet there, second by second after the event."""

from __future__ import annotations

import altair as alt

from pipeline.charts.chart import Chart, Rows
from pipeline.charts.look import DASHES, HEIGHT, SERIES, Drawing

CHOSEN = "datum.figure == figure && (cohort == 'all' || datum.cohort == cohort)"


def draw() -> Drawing:
    """A falling step line with its interval for each cohort."""
    color = alt.Color(
        "cohort:N", scale=alt.Scale(range=list(SERIES)), legend=alt.Legend(title=None, orient="top")
    )
    x = alt.X("time_s:Q", title="seconds after the level-off or power change")
    axis = alt.Axis(format=".0%", title=None, values=[0, 0.25, 0.5, 0.75, 1])
    base = alt.Chart().transform_filter(CHOSEN)
    interval = base.mark_area(opacity=0.12, interpolate="step-after").encode(
        x=x,
        y=alt.Y("low:Q", scale=alt.Scale(domain=[0, 1]), axis=axis),
        y2="high",
        color=color,
    )
    line = base.mark_line(interpolate="step-after").encode(
        x=x,
        y=alt.Y("survival:Q", axis=axis),
        color=color,
        strokeDash=alt.StrokeDash(
            "cohort:N",
            scale=alt.Scale(range=[list(d) for d in DASHES]),
            legend=alt.Legend(title=None, orient="top"),
        ),
        tooltip=[
            alt.Tooltip("cohort:N"),
            alt.Tooltip("time_s:Q", title="seconds", format=".0f"),
            alt.Tooltip("survival:Q", title="not yet there", format=".0%"),
            alt.Tooltip("at_risk:Q", title="events still followed"),
        ],
    )
    return alt.layer(
        interval,
        line,
        data=alt.NamedData("curves"),
        width="container",
        height=HEIGHT,
        title="level-offs and power changes not yet trimmed",
    )


CHART = Chart(
    name="settling_curves",
    title="How soon it is trimmed",
    reading=(
        "Each line falls as level-offs and power changes become trimmed; where it ends above zero, the rest "
        "were not trimmed while they were followed, and are counted so, not left out."
    ),
    description=(
        "Step chart: share of level-offs and power changes not yet trimmed against seconds since the "
        "event, one line with a 95 % interval for each cohort. The same figures are in the table below it."
    ),
    rows={
        "curves": Rows(
            "page_settling_points",
            ("cohort", "figure", "time_s", "at_risk", "survival", "low", "high"),
        )
    },
    draw=draw,
    choices={"cohort": "all", "figure": "set"},
    series="cohort",
)
