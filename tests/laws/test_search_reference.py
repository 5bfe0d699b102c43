"""Every step of the search for maneuvers equals the slow, obvious reference, on generated lessons."""

from collections import Counter
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.flights import Log, stored_tables
from tests.generated_flights import SHORT_LIMITS, THOROUGH, USUAL, logs, own_limits
from tests.generated_lessons import lesson_logs, searchable
from tests.reference.compare import is_same
from tests.reference.searched import STEPS, search_differences
from tests.sizes import size

SHORT = {**SHORT_LIMITS, "inferred_untasked_s": 30.0}
SEARCHED = {"inferred_untasked_s": 60.0}


def _assert_search_is_the_reference(
    flown: tuple[Log, ...], limits: dict[str, float], seen: Counter[str]
) -> None:
    tables = stored_tables(searchable(*flown))
    wrong = []
    for difference in search_differences(tables, own_limits=own_limits(limits)):
        seen[difference.relation] += 1
        if not is_same(difference, 1e-6):
            wrong.append(difference)
    assert wrong == []


def test_the_search_finds_what_the_reference_finds() -> None:
    seen: Counter[str] = Counter()

    @given(st.tuples(lesson_logs(), lesson_logs(), lesson_logs()))
    @settings(USUAL, max_examples=5)
    def searched(flown: tuple[Log, ...]) -> None:
        _assert_search_is_the_reference(flown, SEARCHED, seen)

    searched()
    assert set(seen) == set(STEPS)


def test_the_search_sees_short_and_odd_logs_as_the_reference_does() -> None:
    seen: Counter[str] = Counter()

    @given(logs(), logs())
    @settings(USUAL, max_examples=4)
    def searched(first: Log, second: Log) -> None:
        flown = (replace(first, tasks=()), second, replace(second, tasks=()))
        _assert_search_is_the_reference(flown, SHORT, seen)

    searched()
    assert seen["session_seconds"] > 0


@pytest.mark.slow
def test_the_search_finds_what_the_reference_finds_in_very_many_lessons() -> None:
    seen: Counter[str] = Counter()

    @given(st.tuples(lesson_logs(), lesson_logs(), lesson_logs(), lesson_logs()))
    @settings(THOROUGH, max_examples=size(25, 400))
    def searched(flown: tuple[Log, ...]) -> None:
        _assert_search_is_the_reference(flown, SEARCHED, seen)

    searched()
    assert min(seen[name] for name in STEPS) > 50
