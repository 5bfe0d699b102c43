"""Every measure equals the slow, obvious reference, on every maneuver of generated flights."""

import pytest
from hypothesis import HealthCheck, given, settings

from tests.generated_flights import School, own_limits, schools
from tests.reference.compare import differences, is_same

UNHURRIED = [HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.large_base_example]


def assert_sql_is_the_reference(school: School) -> None:
    found = differences(school.tables(), own_limits=own_limits())
    assert [d for d in found if not is_same(d)] == []


@given(schools(most=2))
@settings(max_examples=12, deadline=None, suppress_health_check=UNHURRIED)
def test_sql_and_reference_agree_on_every_figure(school: School) -> None:
    assert_sql_is_the_reference(school)


@pytest.mark.slow
@given(schools(most=4))
@settings(max_examples=500, deadline=None, suppress_health_check=UNHURRIED)
def test_sql_and_reference_agree_on_very_many_flights(school: School) -> None:
    assert_sql_is_the_reference(school)
