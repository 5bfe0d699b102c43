"""turn_figures: the short way round, and why figures are missing."""

# ruff: noqa: E501 (tables in text are wide)

from tests.logs import NO_LIMITS
from tests.tables import rows_of

MANEUVERS = """
    maneuver_id | kind  | start_s | end_s | observed_s | target_heading_deg
    short       | turn  | 0       | 20    | 20         | 90
    long        | turn  | 0       | 20    | 20         | 90
    behind      | turn  | 0       | 20    | 20         | 90
    unseen      | turn  | 0       | 20    | 0          | 90
    aimless     | turn  | 0       | 20    | 20         | -
    patchy      | turn  | 0       | 20    | 10         | 90
    level       | level | 0       | 20    | 20         | 90"""
READINGS = """
    maneuver_id | turned_deg | asked_deg | roll_out_error_deg | overshoot_deg | peak_rate_deg_per_s | peak_bank_deg | altitude_kept_ft
    short       | 41         | 40        | 1                  | 2             | 3                   | 16            | 30
    long        | -320       | 40        | 0                  | 0             | 3                   | 16            | 30
    behind      | -178       | 178       | 4                  | 5             | 3                   | -             | 30
    aimless     | 40         | -         | -                  | -             | 3                   | 16            | 30
    patchy      | 40         | 40        | 0                  | 0             | 3                   | 16            | 30"""


def test_the_way_round_is_judged_except_straight_behind_and_reasons_are_told() -> None:
    rows = rows_of(
        "turn_figures", maneuvers=MANEUVERS, turn_readings=READINGS, own_limits=NO_LIMITS
    )
    found = {r["maneuver_id"]: (r["is_short_way"], r["turn_reason"]) for r in rows}
    assert found == {
        "short": (True, None),
        "long": (False, None),
        "behind": (None, None),
        "unseen": (None, "no heading observed"),
        "aimless": (None, "no target heading"),
        "patchy": (True, "observed for only 10 of 20 s"),
    }
