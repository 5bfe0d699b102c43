"""maneuver_numbers: a number for each maneuver, in the order of their codes."""

from tests.tables import rows_of

HEAD = (
    "maneuver_id | session_id | revision | start_ms | end_ms | gap_limit_ms "
    "| target_altitude_ft | target_heading_deg"
)


def test_numbers_go_with_the_codes_from_one() -> None:
    windows = f"{HEAD}\nS2.1.01 | S2 | 1 | 0 | 9 | 1 | 1 | 1\nS1.1.02 | S1 | 1 | 5 | 9 | 1 | - | 2"
    rows = rows_of("maneuver_numbers", maneuver_windows=windows)
    found = sorted((r["maneuver_no"], r["maneuver_id"], r["start_ms"]) for r in rows)
    assert found == [(1, "S1.1.02", 5), (2, "S2.1.01", 0)]
