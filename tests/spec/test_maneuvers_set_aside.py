"""maneuvers: what an instructor set aside is not scored; set aside in one aspect, it is."""

# ruff: noqa: E501 (tables in text are wide)

import pytest

from tests.tables import rows_of

INPUTS = {
    "maneuver_windows": """
        maneuver_id | session_id | revision | kind  | basis    | start_s | end_s | start_ms | end_ms | target_altitude_ft | target_heading_deg | flown_by
        m1          | s1         | 1        | level | assigned | 0       | 100   | 0        | 100000 | 3000               | 90                 | student""",
    "sessions": "session_id | revision\ns1 | 1",
    "channel_sums": "maneuver_id | channel | observed_s\nm1 | altitude | 100",
    "maneuver_states": "maneuver_id | is_autopilot_on | is_on_ground\nm1 | no | no",
    "session_gates": "session_id | gate:text | severity | channel",
}


@pytest.mark.parametrize(("aspect", "is_scored"), [("-", False), ("trim", True)])
def test_only_what_is_set_aside_in_every_aspect_is_not_scored(aspect: str, is_scored: bool) -> None:
    (found,) = rows_of(
        "maneuvers",
        reviews=f"""
            kind      | maneuver_id | aspect   | note    | made_at
            set-aside | m1          | {aspect} | traffic | 2026-03-01T09:00""",
        **INPUTS,
    )
    assert found["is_scored"] is is_scored
    assert found["not_scored_reason"] == (None if is_scored else "set aside: traffic")
