"""The night of the demo, whatever the clock of the machine says."""

import csv
from datetime import UTC, datetime

import pytest

from pipeline.cli.demo import SAMPLE_NIGHT, night_of, sample_root


@pytest.mark.parametrize("year", [1970, 2025, 2026])
def test_a_clock_before_the_sample_counts_as_the_sample_s_own_night(year: int) -> None:
    assert night_of(datetime(year, 1, 1, tzinfo=UTC)) == SAMPLE_NIGHT


def test_a_later_clock_counts_as_it_is() -> None:
    later = datetime(2031, 5, 6, tzinfo=UTC)
    assert night_of(later) == later


def test_no_flight_of_the_sample_began_after_its_night() -> None:
    with (sample_root() / "inbox" / "sessions.csv").open(encoding="utf-8") as file:
        told = [row["started_at"] for row in csv.DictReader(file)]
    moments = [datetime.fromisoformat(text) for text in told if text.startswith("20")]
    assert len(moments) > 10
    assert max(moments) < SAMPLE_NIGHT
