"""How much wider or narrower the same students' figures are on each device."""

from __future__ import annotations

import altair as alt

from pipeline.charts.chart import Chart, Rows
from pipeline.charts.look import BLUE, INK, VERMILION, Drawing

NAMED = "named to operations"
UNNAMED = "not named"


def draw() -> Drawing:
    """A point for each device and aspect, in per cent away from the other devices."""
    none = alt.Chart(alt.InlineData(values=[{"none": 0}])).mark_rule(color=INK).encode(x="none:Q")
    base = alt.Chart().transform_filter("datum.aspect == aspect && datum.effect_percent != null")
    device = alt.Y("device_id:N", title=None, axis=alt.Axis(labelLimit=140))
    effect = alt.X(
        "effect_percent:Q",
        title=None,
        scale=alt.Scale(padding=24, nice=False),
        axis=alt.Axis(format="+d", grid=True, tickMinStep=1),
    )
    stems = base.mark_rule(strokeWidth=1.5, color=INK, opacity=0.4).encode(
        x=effect, x2=alt.datum(0), y=device
    )
    scale = [NAMED, UNNAMED]
    points = (
        base.transform_calculate(word=f"datum.is_named ? '{NAMED}' : '{UNNAMED}'")
        .mark_point(filled=True, size=90, opacity=1)
        .encode(
            x=effect,
            y=device,
            color=alt.Color(
                "word:N",
                scale=alt.Scale(domain=scale, range=[VERMILION, BLUE]),
                legend=alt.Legend(title=None),
            ),
            shape=alt.Shape(
                "word:N",
                scale=alt.Scale(domain=scale, range=["diamond", "circle"]),
                legend=alt.Legend(title=None),
            ),
            tooltip=[
                alt.Tooltip("device_id:N", title="device"),
                alt.Tooltip("effect_percent:Q", title="wider, per cent", format="+.1f"),
                alt.Tooltip("session_count:Q", title="sessions"),
                alt.Tooltip("linking_students:Q", title="students who flew others too"),
            ],
        )
    )
    return alt.layer(
        none,
        stems,
        points,
        data=alt.NamedData("effects"),
        width="container",
        height={"step": 34},
        title=["wider (+) or narrower (\u2212), per cent,", "than the same students elsewhere"],
    )


CHART = Chart(
    name="device_effects",
    title="What the device adds",
    reading=(
        "Each mark is how much wider the same students' figures are on that device than on the others of its "
        "class; a diamond is far enough out to be named to operations."
    ),
    description=(
        "Point chart: per cent by which figures on each device are wider or narrower than the same "
        "students' figures elsewhere. The same figures are in the table below it."
    ),
    rows={
        "effects": Rows(
            "page_device_effects",
            (
                "aspect",
                "device_class",
                "device_id",
                "effect_percent",
                "session_count",
                "linking_students",
                "is_named",
            ),
        )
    },
    draw=draw,
    choices={"aspect": "altitude"},
)
