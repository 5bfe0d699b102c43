"""broken_rules: nothing for sound data, one row for each rule that a planted fault breaks."""

# ruff: noqa: E501 (tables in text are wide)

import pyarrow as pa
import pytest

from tests.tables import rows_of


def flag_on(maneuver_id: str) -> pa.Table:
    """One standing flag that rests on one maneuver."""
    return pa.table({"student_id": ["A"], "aspect": ["altitude"], "evidence": [[maneuver_id]]})


SOUND = {
    "sessions": "session_id | student_id | duration_s\ns1 | A | 300",
    "students": "student_id\nA",
    "tasks": "session_id | task_no\ns1 | 1",
    "maneuvers": "maneuver_id | session_id | basis | start_s | end_s | observed_s | is_scored\nm1 | s1 | assigned | 10 | 130 | 120 | yes",
    "altitude_hold": "maneuver_id | altitude_bias_ft | altitude_sd_ft | altitude_rmse_ft | altitude_mae_ft | altitude_max_ft | altitude_observed_s\nm1 | 3 | 4 | 5 | 4 | 9 | 120",
    "heading_hold": "maneuver_id | heading_bias_deg | heading_sd_deg | heading_rmse_deg | heading_mae_deg | heading_max_deg | heading_observed_s\nm1 | 0 | 1 | 1 | 1 | 2 | 120",
    "excursions": "maneuver_id | channel | standard_id | in_tolerance | excursions | out_s | longest_out_s\nm1 | altitude | own | 0.9 | 1 | 12 | 12",
    "trim_settling": "maneuver_id | trim_settle_s | followed_s | is_settled\nm2 | 20 | 100 | yes",
    "maneuver_scores": "maneuver_id\nm1",
    "flags": flag_on("m1"),
    "limits": "untrimmed_limit | scored_minimum_s | hold_share\n0.05 | 60 | 0.95",
}  # fmt: skip

FAULTS = [
    ("session_has_its_student", "students", "student_id\nB"),
    ("task_has_its_maneuver", "tasks", "session_id | task_no\ns9 | 1"),
    ("maneuver_lies_in_its_session", "sessions", "session_id | student_id | duration_s\ns1 | A | 100"),
    ("observed_is_at_most_the_length", "maneuvers", SOUND["maneuvers"].replace("| 120 |", "| 121 |")),
    ("rms_is_mean_and_spread", "altitude_hold", SOUND["altitude_hold"].replace("| 3 | 4 | 5 |", "| 3 | 3 | 5 |")),
    ("errors_are_in_order", "heading_hold", SOUND["heading_hold"].replace("| 1 | 1 | 2 |", "| 1 | 1 | 0.5 |")),
    ("time_outside_fits", "excursions", SOUND["excursions"].replace("| 12 | 12", "| 12 | 13")),
    ("settling_lies_in_its_event", "trim_settling", SOUND["trim_settling"].replace("| 20 |", "| 101 |")),
    ("scored_maneuver_has_scores", "maneuver_scores", "maneuver_id\nm2"),
    ("limits_are_set", "limits", SOUND["limits"].replace("0.05", "0")),
    ("flag_has_its_evidence", "flags", flag_on("m7")),
]  # fmt: skip


def test_sound_data_breaks_no_rule() -> None:
    assert rows_of("broken_rules", **SOUND) == []


@pytest.mark.parametrize(
    ("rule", "relation", "content"), FAULTS, ids=[fault[0] for fault in FAULTS]
)
def test_a_planted_fault_is_named(rule: str, relation: str, content: str | pa.Table) -> None:
    rows = rows_of("broken_rules", **{**SOUND, relation: content})
    assert rule in {row["rule"] for row in rows}
