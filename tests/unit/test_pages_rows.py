"""Rows inside a page: compact, plain JSON, unable to leave the script element they stand in."""

import json
from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.pages.rows import as_columns, count_rows, safe_json


@given(st.text())
def test_no_text_can_end_the_element_it_stands_in(text: str) -> None:
    told = safe_json({"label": text})
    assert not set(told) & {"<", ">", "&", "\u2028", "\u2029"}
    assert json.loads(told) == {"label": text}


def test_dates_are_text_and_decimals_numbers() -> None:
    told = json.loads(
        safe_json([date(2026, 3, 5), datetime(2026, 3, 5, 9, tzinfo=UTC), Decimal("1.5")])
    )
    assert told == ["2026-03-05", "2026-03-05T09:00:00+00:00", 1.5]


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_what_is_no_number_is_refused(value: float) -> None:
    with pytest.raises(ValueError, match="JSON"):
        safe_json([value])


def test_an_unknown_kind_of_value_is_refused() -> None:
    with pytest.raises(TypeError, match="set has no place"):
        safe_json({1})


def test_each_column_s_name_is_written_once() -> None:
    rows = [{"a": 1, "b": 2, "c": 3}, {"a": 4, "b": 5, "c": 6}]
    told = as_columns(rows, ["c", "a"])
    assert told == {"columns": ["c", "a"], "rows": [[3, 1], [6, 4]]}
    assert count_rows({"x": told, "y": told}) == 4
