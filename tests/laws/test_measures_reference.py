"""Every measure equals the slow, obvious reference, on every maneuver of generated flights."""

import pytest
from hypothesis import given, settings

from tests.generated_flights import THOROUGH, USUAL, School, own_limits, schools
from tests.reference.compare import OF_MANEUVERS, differences, is_same
from tests.sizes import size


def assert_sql_is_the_reference(school: School) -> None:
    found = differences(school.tables(), OF_MANEUVERS, own_limits=own_limits())
    assert [d for d in found if not is_same(d)] == []


@given(schools(most=2))
@settings(USUAL, max_examples=8)
def test_sql_and_reference_agree_on_every_figure(school: School) -> None:
    assert_sql_is_the_reference(school)


@pytest.mark.slow
@given(schools(most=4))
@settings(THOROUGH, max_examples=size(60, 500))
def test_sql_and_reference_agree_on_very_many_flights(school: School) -> None:
    assert_sql_is_the_reference(school)
