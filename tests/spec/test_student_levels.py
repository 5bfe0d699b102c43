"""student_levels: level, interval, chance and state after each session that counts."""

# ruff: noqa: E501 (tables in text are wide)

import math
from typing import Any

import pytest

from tests.tables import rows_of


def after(
    session_no: int,
    z: float,
    *,
    is_flagged: str = "no",
    is_rising: str = "no",
    is_falling: str = "no",
    left_out: int = 0,
) -> dict[str, Any]:
    """The row of one session of standing z; `left_out` earlier sessions of the student did not count."""
    figures = """session_id | student_id | aspect | cohort | stratum | device_class | standard_id | tolerance | unit | session_date | started_at | session_no | maneuver_count | level_count | tolerance_ratio | is_counted\n"""
    for n in range(left_out):
        figures += f"x{n} | A | altitude | c1 | sim | simulator | own | 200 | ft | 2026-02-01 | 2026-02-01T0{n}:00 | - | 0 | 3 | - | no\n"
    figures += f"s1 | A | altitude | c1 | sim | simulator | own | 200 | ft | 2026-03-01 | 2026-03-01T09:00 | {session_no} | 4 | 4 | 1.1 | yes"
    (row,) = rows_of(
        "student_levels",
        session_figures=figures,
        session_levels=f"""
            session_id | aspect   | is_adjusted | level_ln | level_sd | z   | p_not_met
            s1         | altitude | no          | {z / 10} | 0.1      | {z} | 0.6
            s1         | altitude | yes         | {z / 10} | 0.1      | {z} | 0.4""",
        session_trends=f"""
            session_id | aspect   | is_adjusted | is_rising   | is_falling
            s1         | altitude | no          | {is_rising} | {is_falling}""",
        flag_history=f"""
            session_id | aspect   | is_flagged   | since_date | cleared_date | is_device_doubt | recent_outside | recent_sessions
            s1         | altitude | {is_flagged} | -          | -            | no              | 2              | 3""",
    )
    return row


def test_the_level_has_its_intervals_and_the_smaller_chance_as_confidence() -> None:
    row = after(4, 1.0)
    assert row["level_ratio"] == pytest.approx(math.exp(0.1))
    assert (row["level_low"], row["level_high"]) == pytest.approx(
        (math.exp(0.1 - 0.12816), math.exp(0.1 + 0.12816))
    )
    assert (row["level_low95"], row["level_high95"]) == pytest.approx(
        (math.exp(0.1 - 0.1959964), math.exp(0.1 + 0.1959964))
    )
    assert (row["p_not_met"], row["confidence"]) == (0.6, 0.4)


def test_two_sessions_are_insufficient_data_whatever_they_say() -> None:
    assert after(2, -5, is_flagged="no")["state"] == "insufficient data"
    assert after(3, -5)["state"] == "meets the standard"


def test_a_standing_flag_is_outside_the_standard() -> None:
    assert after(5, -1, is_flagged="yes")["state"] == "outside the standard"


def test_meeting_the_standard_begins_at_four_chances_in_five() -> None:
    assert after(5, -0.8416)["state"] == "meets the standard"
    assert after(5, -0.8415)["state"] == "about at the standard, cannot say yet"


def test_with_more_than_two_fifths_left_out_meeting_is_not_claimed() -> None:
    assert after(3, -2, left_out=1)["excluded_share"] == pytest.approx(0.5)
    assert after(3, -2, left_out=1)["state"] == "about at the standard, cannot say yet"


def test_a_trend_gives_the_state_where_the_level_does_not() -> None:
    assert after(6, 0.5, is_rising="yes")["state"] == "slipping"
    assert after(6, 0.5, is_falling="yes")["state"] == "improving"
    assert after(6, -2, is_falling="yes")["state"] == "meets the standard"


def test_no_trend_from_six_sessions_on_is_a_plateau_and_earlier_cannot_be_said() -> None:
    assert (after(6, 0.5)["state"], after(6, 0.5)["trend"]) == ("plateau", "none seen")
    early = after(5, 0.5)
    assert (early["state"], early["trend"]) == (
        "about at the standard, cannot say yet",
        "cannot say",
    )
