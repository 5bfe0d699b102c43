"""retrim_events: the level-offs and power changes whose settling is read."""

# ruff: noqa: E501 (tables in text are wide)

from tests.expected import assert_relation
from tests.tables import rows_of

WINDOWS = """
    maneuver_id | session_id | revision | kind         | start_ms | end_ms | gap_limit_ms | median_step_s | target_altitude_ft | device_id | session_date
    M1          | S1         | 1        | level_off    | 0        | 90000  | 1500         | 0.25          | 4000               | D1        | 2026-03-01
    M2          | S1         | 1        | power_change | 90000    | 95000  | 1500         | 0.25          | 4000               | D2        | 2026-03-01
    M3          | S1         | 1        | level        | 95000    | 99000  | 1500         | 0.25          | 4000               | D1        | 2026-03-01"""
CONTROLS = "session_id | revision | control\nS1 | 1 | centring"
NEUTRALS = "device_id | session_date | pitch_neutral\nD1 | 2026-03-01 | 0.03"
SLOW = "session_id | revision | channel:text | median_step_s | gap_limit_ms"


def test_level_offs_and_power_changes_have_rows_with_the_neutral_of_the_day() -> None:
    assert_relation(
        "retrim_events",
        """maneuver_id | pitch_neutral | control  | gap_limit_ms | speed_gap_ms | mean_ms | settle_hold_ms | set_hold_ms | median_step_s
           M1          | 0.03          | centring | 1500         | 1500         | 4999    | 20000          | 30000       | 0.25
           M2          | -             | centring | 1500         | 1500         | 4999    | 20000          | 30000       | 0.25""",
        maneuver_windows=WINDOWS,
        session_controls=CONTROLS,
        bound_neutrals=NEUTRALS,
        slow_channels=SLOW,
    )


def test_slow_channels_bring_their_own_gap_limits() -> None:
    slow = f"""{SLOW}
        S1 | 1 | altitude       | 1 | 2500
        S1 | 1 | vertical_speed | 2 | 5000
        S1 | 1 | pitch_control  | 3 | 7500
        S1 | 1 | pitch_force    | 4 | 10000
        S1 | 1 | airspeed       | 9 | 99000
        S2 | 1 | altitude       | 9 | 99000"""
    inputs = {"maneuver_windows": WINDOWS, "bound_neutrals": NEUTRALS, "slow_channels": slow}
    names = ("gap_limit_ms", "speed_gap_ms", "control_gap_ms", "displacement_gap_ms")
    row = rows_of("retrim_events", **inputs, session_controls=CONTROLS)[0]
    assert [row[n] for n in names] == [2500, 5000, 7500, 7500]
    assert row["median_step_s"] == 1
    free = CONTROLS.replace("centring", "free")
    row = rows_of("retrim_events", **inputs, session_controls=free)[0]
    assert row["displacement_gap_ms"] == 10000
