"""technique: chasing, and whether the trim was used rightly."""

# ruff: noqa: E501 (tables in text are wide)

from typing import Any

import pyarrow as pa

from tests.logs import NO_LIMITS
from tests.tables import rows_of, table

MANEUVERS = """
    maneuver_id | session_id | kind
    chaser      | s1         | level
    quiet       | s1         | level
    event       | s1         | power_change
    hasty       | s1         | level_off
    yoke        | s2         | level
    turn        | s1         | turn"""
SESSIONS = table("""
    session_id | device_id | session_date | control
    s1         | D1        | 2026-03-01   | centring
    s2         | D2        | 2026-03-01   | free""").append_column(
    "channels",
    pa.array([["pitch_control", "pitch_trim"], ["pitch_control", "pitch_trim", "pitch_force"]]),
)
SUMS = """
    maneuver_id | channel       | spread
    chaser      | pitch_control | 0.05
    quiet       | pitch_control | 0.005"""
CORRECTIONS = """
    maneuver_id | needle_r | growth | correction_gain_per_min | over_rate_share | over_bank_share
    chaser      | -0.9     | 1.5    | -1                      | 0.4             | 0
    quiet       | -0.95    | 1      | 2                       | 0               | 0"""
NEUTRALS = "device_id | session_date | pitch_neutral\nD1 | 2026-03-01 | 0.06"
TRIMS = """
    maneuver_id | move_no | start_s | change | control_before | force_before_n | rate_before_fpm | control_moved_s
    event       | 1       | 130     | 0.05   | 0.10           | -              | 0               | 122
    event       | 2       | 140     | -0.05  | 0.10           | -              | 0               | 122
    event       | 3       | 150     | -0.05  | 0.065          | -              | 300             | 122
    event       | 4       | 160     | 0.05   | 0.065          | -              | 300             | 122
    event       | 5       | 170     | 0.05   | 0.065          | -              | 50              | 122
    hasty       | 1       | 101     | 0.05   | 0.02           | -              | -600            | -
    yoke        | 1       | 20      | 0.05   | 0.90           | 8              | 0               | 10
    yoke        | 2       | 30      | 0.05   | 0.90           | -8             | 0               | 10
    yoke        | 3       | 40      | 0.05   | 0.90           | -              | 0               | 10"""


def rows(trims: str = TRIMS) -> dict[str, dict[str, Any]]:
    found = rows_of(
        "technique",
        maneuvers=MANEUVERS,
        sessions=SESSIONS,
        channel_sums=SUMS,
        correction_sums=CORRECTIONS,
        device_neutrals=NEUTRALS,
        trim_contexts=trims,
        own_limits=NO_LIMITS,
    )
    return {r["maneuver_id"]: r for r in found}


def test_the_needle_is_chased_only_by_a_hand_that_moves() -> None:
    found = rows()
    assert found["chaser"]["is_chasing"] is True
    assert found["quiet"]["is_chasing"] is False
    assert found["event"]["is_chasing"] is None
    assert "turn" not in found


def test_trim_follows_what_is_held_and_else_the_needle() -> None:
    """Held 0.04 nose up: up is right, down is wrong; held nothing while climbing: down is right, up wrong; neither: not told."""
    event = rows()["event"]
    assert (event["trims"], event["trims_right"], event["trims_wrong"]) == (5, 2, 2)
    assert event["trims_unsteady"] == 2


def test_on_a_free_yoke_the_force_tells() -> None:
    yoke = rows()["yoke"]
    assert (yoke["trims"], yoke["trims_right"], yoke["trims_wrong"]) == (3, 1, 1)


def test_control_first_then_trim() -> None:
    found = rows()
    assert (found["event"]["is_control_first"], found["event"]["control_lead_s"]) == (True, 8)
    assert (found["hasty"]["is_control_first"], found["hasty"]["control_lead_s"]) == (False, None)
    assert found["chaser"]["is_control_first"] is None


def test_a_control_that_moved_before_the_sessions_start_moved_all_the_same() -> None:
    early = TRIMS.replace("| 130 ", "| -12 ").replace("| 122", "| -20")
    event = rows(early)["event"]
    assert (event["is_control_first"], event["control_lead_s"]) == (True, 8)


def test_no_trim_input_is_none_not_unknown() -> None:
    quiet = rows()["quiet"]
    assert (quiet["trims"], quiet["trims_wrong"], quiet["technique_reason"]) == (0, 0, None)
