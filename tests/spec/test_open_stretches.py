"""open_stretches and untasked_sessions: where no task is, and whether that is long enough to search."""

import pytest

from tests.logs import NO_TASKS, samples, session
from tests.tables import rows_of, table

SESSION = session(samples(300, session_id="s1"))


def tasks(*spans: tuple[float, float]) -> str:
    lines = [f"s1 | 1 | {start} | {end}" for start, end in spans]
    return "\n".join(["session_id | revision | start_s | end_s", *lines])


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
    given = table(tasks(*spans)) if spans else NO_TASKS
    rows = rows_of("open_stretches", stored_sessions=SESSION, stored_tasks=given)
    assert sorted((r["start_s"], r["end_s"]) for r in rows) == expected
