"""kendall_tails: the exact distribution of Kendall's score (published values: tests/published)."""

import pytest

from tests.tables import rows_of


def test_every_score_that_can_be_has_its_two_sided_chance() -> None:
    rows = rows_of("kendall_tails")
    found = {(r["sessions"], r["score"]): r["p_exact"] for r in rows}
    assert [s for n, s in found if n == 3] == [-3, -2, -1, 0, 1, 2, 3]
    assert [found[3, s] for s in (-3, -1, 1, 3)] == pytest.approx([1 / 3, 1, 1, 1 / 3])
    assert [found[3, s] for s in (0, 2)] == pytest.approx([1, 1 / 3])  # such scores come from ties
    assert found[1, 0] == 1
    assert max(n for n, _ in found) == 10
