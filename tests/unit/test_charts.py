"""The charts: each compiles, says what it is, reads only columns that there are, and is repeatable."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest

from pipeline.charts import CHARTS, Chart
from pipeline.charts.compiled import chart_library, compiled
from pipeline.charts.look import SERIES
from pipeline.charts.still import still
from pipeline.codebook import column_definitions

each_chart = pytest.mark.parametrize("chart", CHARTS.values(), ids=list(CHARTS))


@each_chart
def test_a_chart_explains_itself(chart: Chart) -> None:
    assert chart.reading.endswith(".")
    assert chart.reading.count(". ") == 0, "one sentence under each chart"
    assert len(chart.description) > 60
    assert compiled(chart)["description"] == chart.description


@each_chart
def test_a_chart_asks_for_nothing_outside(chart: Chart) -> None:
    vega = compiled(chart)
    told = json.dumps({**vega, "$schema": None})
    assert "http" not in told
    assert not any("url" in data for data in vega["data"])


@each_chart
def test_a_chart_has_its_rows_and_choices_by_name(chart: Chart) -> None:
    vega = compiled(chart)
    assert {data["name"] for data in vega["data"]} >= set(chart.rows)
    signals = {signal["name"]: signal.get("value") for signal in vega["signals"]}
    assert {name: signals[name] for name in chart.choices} == dict(chart.choices)


@each_chart
def test_groups_share_one_legend(chart: Chart) -> None:
    assert len(compiled(chart).get("legends", [])) <= 1


@each_chart
def test_colour_is_never_alone(chart: Chart) -> None:
    """A scale of colours goes with one of shapes or dashes in the legend."""
    for legend in compiled(chart).get("legends", []):
        if {"fill", "stroke"} & legend.keys():
            assert {"shape", "strokeDash"} & legend.keys()


@each_chart
def test_a_chart_reads_only_columns_that_there_are(chart: Chart) -> None:
    there = {(d.relation, d.column) for d in column_definitions()}
    for rows in chart.rows.values():
        assert {(rows.relation, column) for column in rows.columns} <= there


@each_chart
def test_a_chart_reads_no_field_that_its_rows_lack(chart: Chart) -> None:
    columns = {column for rows in chart.rows.values() for column in rows.columns}
    made = set(re.findall(r'"as": "?\[?"?(\w+)', json.dumps(compiled(chart)))) | {"edge", "words"}
    inline = {key for row in _inline_rows(compiled(chart)) for key in row}
    read = set(re.findall(r'datum\[\\"(\w+)\\"\]', json.dumps(compiled(chart))))
    assert {name.removesuffix("_end") for name in read} <= columns | made | inline


def _inline_rows(vega: dict[str, Any]) -> list[dict[str, Any]]:
    return [row for data in vega["data"] for row in data.get("values", [])]


def test_the_library_is_one_script_that_cannot_end_its_element() -> None:
    assert "</script" not in chart_library()
    assert "window.vegaEmbed" in chart_library()


WEEKS = [
    {
        "cohort": cohort,
        "aspect": "altitude",
        "week": week,
        "weeks_ago": 3 - week,
        "median": 0.9 - 0.1 * week,
        "q1": 0.6 - 0.1 * week,
        "q3": 1.3 - 0.1 * week,
        "student_count": 8,
        "panel_no": 1,
    }
    for cohort in ("alpha", "beta")
    for week in (1, 2, 3)
]


@pytest.mark.parametrize(
    ("suffix", "start"), [(".svg", b"<svg"), (".png", b"\x89PNG"), (".pdf", b"%PDF")]
)
def test_a_still_is_the_kind_of_picture_asked_for(suffix: str, start: bytes) -> None:
    chart = CHARTS["cohort_trends"]
    assert still(chart, {"weeks": WEEKS}, chart.choices, suffix).startswith(start)


def test_the_same_rows_give_the_same_picture() -> None:
    chart = CHARTS["cohort_trends"]
    first, second = (still(chart, {"weeks": WEEKS}, chart.choices, ".svg") for _ in range(2))
    assert first == second


def test_a_choice_changes_the_marks_of_a_still() -> None:
    chart = CHARTS["cohort_trends"]
    both = still(chart, {"weeks": WEEKS}, chart.choices, ".svg").decode()
    one = still(chart, {"weeks": WEEKS}, {**chart.choices, "cohort": "beta"}, ".svg").decode()
    assert "alpha" in both
    assert "alpha" not in one
    assert "beta" in one
    assert both.count("<path") > one.count("<path")


def test_a_group_keeps_its_colour_and_shape_when_it_is_chosen_alone() -> None:
    chart = CHARTS["cohort_trends"]
    first, second = SERIES[:2]
    both = still(chart, {"weeks": WEEKS}, chart.choices, ".svg").decode()
    beta = still(chart, {"weeks": WEEKS}, {**chart.choices, "cohort": "beta"}, ".svg").decode()
    assert first in both
    assert second in both
    assert first not in beta
    assert second in beta


def test_groups_of_another_panel_are_not_drawn() -> None:
    chart = CHARTS["cohort_trends"]
    rows = [{**row, "panel_no": 1 if row["cohort"] == "alpha" else 2} for row in WEEKS]
    drawn = still(chart, {"weeks": rows}, {**chart.choices, "panel": 2}, ".svg").decode()
    assert "beta" in drawn
    assert "alpha" not in drawn


def test_a_label_in_a_still_is_escaped() -> None:
    chart = CHARTS["cohort_trends"]
    rows = [{**row, "cohort": "</text><script>1</script>"} for row in WEEKS]
    assert b"<script" not in still(chart, {"weeks": rows}, chart.choices, ".svg")


def test_a_still_has_dark_ink_on_white_paper() -> None:
    chart = CHARTS["cohort_trends"]
    drawn = still(chart, {"weeks": WEEKS}, chart.choices, ".svg").decode()
    assert "currentColor" not in drawn
    assert 'fill="#ffffff"' in drawn


@each_chart
def test_a_chart_is_valid_vega_lite(chart: Chart) -> None:
    assert chart.spec(is_checked=True) == chart.spec()
