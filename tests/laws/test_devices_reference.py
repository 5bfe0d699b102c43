"""What is told of devices equals the slow, obvious reference, row for row, on schools made up from seeds."""

from collections import Counter
from datetime import date

import pyarrow as pa
import pytest

from tests.generated_devices import device_school
from tests.generated_flights import own_limits
from tests.reference.compare import OF_DEVICES, differences, is_same
from tests.sizes import size

LIMITS = {"scored_minimum_s": 15.0, "neutral_step_students": 3.0}
DATES = (date(2026, 1, 20), date(2026, 3, 1), date(2026, 5, 20), date(2026, 8, 1))


def _assert_devices_are_the_reference(seeds: range) -> None:
    seen: Counter[str] = Counter()
    wrong = []
    for seed in seeds:
        asked = pa.table({"as_of_date": pa.array([DATES[seed % 4]], pa.date32())})
        tables = device_school(seed).tables()
        bound = {"own_limits": own_limits(LIMITS), "as_of": asked}
        for difference in differences(tables, OF_DEVICES, **bound):
            seen[difference.relation] += 1
            if not is_same(difference):
                wrong.append((seed, difference))
    assert wrong == []
    assert min(seen[name] for name in OF_DEVICES) >= len(seeds)


def test_what_is_told_of_devices_is_what_the_reference_tells() -> None:
    _assert_devices_are_the_reference(range(12, 14))


@pytest.mark.slow
def test_what_is_told_of_very_many_devices_is_what_the_reference_tells() -> None:
    _assert_devices_are_the_reference(range(100, 100 + size(12, 300)))
