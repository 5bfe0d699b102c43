"""What pages say beside the figures: how old they are, and what an instructor's note no longer keeps out."""

from datetime import UTC, date, datetime
from typing import Any

import pytest

from pipeline.pages.gather import Gathered
from pipeline.pages.other_pages import quality_page
from pipeline.pages.overview import newest_words
from pipeline.pages.shell import render

NEWEST = date(2026, 3, 28)


def gathered(**rows: list[dict[str, Any]]) -> Gathered:
    return Gathered(
        {"as_of": [{"as_of_date": NEWEST}], "limits": [{"flag_not_seen_days": 21}], **rows}
    )


@pytest.mark.parametrize(
    ("today", "told"),
    [
        (date(2026, 3, 27), ""),
        (date(2026, 3, 28), ""),
        (date(2026, 3, 29), ", 1 day before the pages were written"),
        (date(2026, 4, 17), ", 20 days before the pages were written"),
    ],
)
def test_the_age_of_the_newest_flight_is_told(today: date, told: str) -> None:
    assert newest_words(gathered(), today) == told


def test_where_nobody_has_flown_for_long_it_is_said_from_when_not_seen_counts() -> None:
    told = newest_words(gathered(), date(2026, 4, 18))
    assert told.startswith(", 21 days before the pages were written. ")
    assert "counts back from it, not from today" in told


def test_without_a_flight_there_is_no_age() -> None:
    assert newest_words(Gathered({"as_of": [{"as_of_date": None}]}), NEWEST) == ""


def test_what_is_set_aside_no_longer_is_told_with_its_reason() -> None:
    note = {"made_at": datetime(2026, 3, 1, 9, tzinfo=UTC), "note": "traffic <3 mi"}
    lapsed = {**note, "kind": "set-aside", "noted_maneuver_id": "s1.1.02", "lapsed_reason": "gone"}
    holds = {**note, "kind": "set-aside", "noted_maneuver_id": "s2.1.01", "lapsed_reason": None}
    seen = {**note, "kind": "acknowledge", "noted_maneuver_id": None, "lapsed_reason": None}
    empty: dict[str, list[dict[str, Any]]] = {
        name: [] for name in ("page_left_out", "page_checks", "page_missing_channels")
    }
    context = quality_page(gathered(reviews=[lapsed, holds, seen], **empty), None)
    assert [row["noted_maneuver_id"] for row in context["lapsed"]] == ["s1.1.02"]
    page = render(
        "data-quality.html.j2",
        **context,
        school="School",
        version="1",
        digest="d",
        as_of=NEWEST,
        root="",
        current="data-quality.html",
        data={"datasets": {}, "charts": []},
    )
    assert "Set aside no longer" in page
    assert "traffic &lt;3 mi" in page
    assert "s2.1.01" not in page
