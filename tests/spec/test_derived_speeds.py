"""derived_speeds: the slope of the altitude where no vertical speed was logged."""

import pytest

from tests.expected import stored
from tests.tables import rows_of


def test_only_sessions_that_logged_none_have_rows() -> None:
    samples = "session_id | t_ms | altitude_ft\n" + "\n".join(
        f"{session} | {1000 * i} | {4000 + 5 * i}" for session in ("S1", "S2") for i in range(3)
    )
    rows = rows_of(
        "derived_speeds",
        stored_samples=stored("samples", samples),
        stored_sessions=stored("sessions", "session_id | gap_limit_s\nS1 | 1.5\nS2 | 1.5"),
        altitude_steps="session_id | revision | altitude_step_ft\nS2 | 1 | 5",
        slow_channels="session_id | revision | channel | gap_limit_ms",
    )
    assert {r["session_id"] for r in rows} == {"S2"}
    assert [r["value"] for r in rows] == pytest.approx([300] * 3)
