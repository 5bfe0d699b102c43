"""The share of a cohort's students who met the standard, week by week, with how sure that is."""

from __future__ import annotations

import altair as alt

from pipeline.charts.chart import Chart, Rows
from pipeline.charts.cohort_trends import CHOSEN
from pipeline.charts.look import HEIGHT, Drawing, by_cohort, weeks_axis

SHARE_AXIS = alt.Axis(format=".0%", title=None, values=[0, 0.25, 0.5, 0.75, 1])


def draw() -> Drawing:
    """A point and its interval for each cohort and week; cohorts of one week stand a little apart."""
    week = weeks_axis("place")
    base = (
        alt.Chart()
        .transform_filter(CHOSEN)
        .transform_window(rank="dense_rank()", sort=[alt.SortField("cohort")])
        .transform_calculate(place="datum.week + 0.12 * (datum.rank - 1)")
    )
    interval = base.mark_rule(strokeWidth=2, opacity=0.6).encode(
        x=week,
        y=alt.Y("met_low:Q", scale=alt.Scale(domain=[0, 1]), axis=SHARE_AXIS),
        y2="met_high",
        color=by_cohort()["color"],
    )
    share = base.mark_point(filled=True, size=70, opacity=1).encode(
        x=week,
        y=alt.Y("met_share:Q", axis=SHARE_AXIS),
        **by_cohort(),
        tooltip=[
            alt.Tooltip("cohort:N"),
            alt.Tooltip("week:Q", title="week since the start"),
            alt.Tooltip("met_share:Q", title="met the standard", format=".0%"),
            alt.Tooltip("met_low:Q", title="from", format=".0%"),
            alt.Tooltip("met_high:Q", title="to", format=".0%"),
            alt.Tooltip("student_count:Q", title="students"),
        ],
    )
    return alt.layer(
        interval,
        share,
        data=alt.NamedData("weeks"),
        width="container",
        height=HEIGHT,
        title="students who met the standard",
    )


CHART = Chart(
    name="met_shares",
    title="Who meets the standard",
    reading=(
        "Each point is the share of a cohort's students whose sessions of that week met the standard; the "
        "bar is its 95 % interval, which is wide because few students fly in one week."
    ),
    description=(
        "Point chart: share of students who met the standard by week and cohort, each with a 95 % "
        "interval. The same figures are in the table below it."
    ),
    rows={
        "weeks": Rows(
            "page_cohort_weeks",
            (
                "cohort",
                "aspect",
                "week",
                "weeks_ago",
                "met_share",
                "met_low",
                "met_high",
                "student_count",
                "panel_no",
            ),
        )
    },
    draw=draw,
    choices={"cohort": "all", "aspect": "altitude", "weeks": 1000, "panel": 0},
    series="cohort",
)
