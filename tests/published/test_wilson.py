"""Shares of students meeting the standard against Newcombe 1998 (Statistics in Medicine 17:857-872).

Table I, Wilson's score interval without continuity correction. 81/263 was read in secondary
restatements; the others of the table are from memory and recomputed, and so are those below it.
"""

import numpy as np
import pytest
from statsmodels.stats.proportion import proportion_confint

from tests.tables import rows_of

TABLE = {
    (81, 263): (0.2553, 0.3662), (15, 148): (0.0624, 0.1605), (0, 20): (0, 0.1611),
    (1, 29): (0.0061, 0.1718),
    (1, 10): (0.0179, 0.4042), (0, 40): (0, 0.0876), (9, 10): (0.5958, 0.9821), (10, 10): (0.7225, 1),
    (19, 20): (0.7639, 0.9911), (3, 3): (0.4385, 1), (4, 4): (0.5101, 1), (5, 5): (0.5655, 1),
    (0, 3): (0, 0.5615),
}  # fmt: skip


def intervals(shares: list[tuple[int, int]]) -> dict[tuple[int, int], tuple[float, float]]:
    """The interval that group_curves gives x of n students, each pair as a cohort of its own."""
    figures = [
        "session_id | student_id | cohort | aspect | device_class | device_id | session_date "
        "| session_no | ln_ratio | is_counted | standard_id"
    ]
    sessions = ["session_id | lesson | instructor_id"]
    for met, count in shares:
        for i in range(count):
            name = f"{met}-{count}-{i}"
            figures.append(
                f"{name} | {name} | {met}/{count} | altitude | simulator | - | 2026-03-02 | 1 "
                f"| {-0.1 if i < met else 0.1} | yes | easy"
            )
            sessions.append(f"{name} | - | -")
    rows = rows_of(
        "group_curves",
        session_figures="\n".join(figures),
        sessions="\n".join(sessions),
        students="student_id | stage | start_date",
    )
    return {
        (r["met_students"], r["student_count"]): (r["met_low"], r["met_high"])
        for r in rows
        if r["axis"] == "week" and r["grouping"] == "cohort"
    }


@pytest.fixture(scope="module")
def found() -> dict[tuple[int, int], tuple[float, float]]:
    return intervals(list(TABLE))


@pytest.mark.parametrize("share", TABLE)
def test_the_interval_is_the_published_one(
    found: dict[tuple[int, int], tuple[float, float]], share: tuple[int, int]
) -> None:
    assert found[share] == pytest.approx(TABLE[share], abs=5e-5)


def test_none_or_all_of_a_few_is_no_certainty(
    found: dict[tuple[int, int], tuple[float, float]],
) -> None:
    """The simple interval has width 0 there; three of three cannot even exclude one half."""
    for (met, count), (low, high) in found.items():
        if met in (0, count):
            assert high - low > 0.05
    assert found[3, 3][0] < 0.5 < found[4, 4][0]


def test_intervals_equal_a_library_on_random_shares() -> None:
    rng = np.random.default_rng(4)
    shares = sorted({(int(rng.integers(0, n + 1)), int(n)) for n in rng.integers(1, 60, 15)})
    for (met, count), interval in intervals(shares).items():
        library = proportion_confint(met, count, method="wilson")
        assert interval == pytest.approx(library, abs=1e-7)
