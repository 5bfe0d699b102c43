"""open_stretches and untasked_sessions: where no task is, and whether that is long enough to search."""

import pyarrow as pa
import pytest

from tests.logs import NO_TASKS, samples, shifted
from tests.tables import rows_of, table

LOG = samples(300, session_id="s1")


def tasks(*spans: tuple[float, float]) -> str:
    lines = [f"s1 | 1 | {start} | {end}" for start, end in spans]
    return "\n".join(["session_id | revision | start_s | end_s", *lines])


def open_in(log: pa.Table, given: pa.Table) -> list[tuple[float, float]]:
    rows = rows_of("open_stretches", stored_samples=log, stored_tasks=given)
    return sorted((r["start_s"], r["end_s"]) for r in rows)


@pytest.mark.parametrize(
    ("spans", "expected"),
    [
        ([], [(0, 300)]),
        ([(0, 300)], []),
        ([(0, 100), (100, 300)], []),
        ([(20, 100), (150, 299)], [(0, 20), (100, 150), (299, 300)]),
        ([(0, 200), (50, 100), (250, 300)], [(200, 250)]),
    ],
)
def test_open_is_what_no_task_covers(
    spans: list[tuple[float, float]], expected: list[tuple[float, float]]
) -> None:
    assert open_in(LOG, table(tasks(*spans)) if spans else NO_TASKS) == expected


@pytest.mark.parametrize(
    ("late_ms", "expected"), [(170_400, (170, 470.4)), (-95_400, (-96, 204.6))]
)
def test_a_recorder_that_began_long_after_or_before_the_session_leaves_all_of_its_log_open(
    late_ms: int, expected: tuple[float, float]
) -> None:
    assert open_in(shifted(LOG, late_ms), NO_TASKS) == [expected]
