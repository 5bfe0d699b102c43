"""Every step of the search equals the reference in every log of the shipped sample, its tasks taken away."""

from collections import Counter

import pytest

from tests.reference.compare import is_same
from tests.reference.searched import STEPS, search_differences
from tests.sample import sample_tables


@pytest.mark.slow
def test_the_search_finds_what_the_reference_finds_in_the_whole_sample() -> None:
    tables = sample_tables()
    tables["stored_tasks"] = tables["stored_tasks"].slice(0, 0)
    seen: Counter[str] = Counter()
    wrong = []
    for difference in search_differences(tables):
        seen[difference.relation] += 1
        if not is_same(difference, 1e-6):
            wrong.append(difference)
    assert wrong == []
    told = STEPS.keys() - {"session_breaks"}
    assert min(seen[name] for name in told) > 100, (
        "the sample has no jump, no pause and no long gap"
    )
