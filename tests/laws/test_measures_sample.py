"""Every measure equals the reference on every maneuver of the shipped sample, assigned and inferred."""

import pytest

from tests.reference.compare import KEYS, differences, is_same
from tests.sample import sample_tables

FEW = {"control_steps"}
"""No stick of the sample was replaced: made-up schools hold this one (test_devices_reference.py)."""


@pytest.mark.slow
def test_sql_and_reference_agree_on_the_whole_sample() -> None:
    tables = sample_tables()
    assert tables["stored_sessions"].num_rows > 100
    seen: dict[str, int] = dict.fromkeys(KEYS, 0)
    wrong = []
    for difference in differences(tables):
        seen[difference.relation] += 1
        if not is_same(difference):
            wrong.append(difference)
    assert wrong == []
    assert min(seen[name] for name in KEYS if name not in FEW) > 100
