"""session_scores: a session against the standard, in one aspect."""

# ruff: noqa: E501 (tables in text are wide)

import math
from typing import Any

import pytest

from tests.tables import rows_of

SCORES = """
    maneuver_id | session_id | student_id | aspect   | standard_id | basis    | tolerance | unit      | tolerance_ratio | in_tolerance | observed_s | is_met | is_in_figure | score_reason
    a1          | s1         | A          | altitude | own         | assigned | 200       | ft        | 0.5             | 1            | 300        | yes    | yes          | -
    a2          | s1         | A          | altitude | own         | assigned | 200       | ft        | 2               | 0.80         | 100        | no     | yes          | -
    a3          | s1         | A          | altitude | own         | inferred | 200       | ft        | 9               | 0            | 100        | no     | no           | -
    a1          | s1         | A          | trim     | -           | assigned | 0.05      | of travel | 0.5             | -            | 300        | yes    | yes          | -
    a2          | s1         | A          | trim     | -           | assigned | 0.05      | of travel | 2               | -            | 100        | no     | yes          | -
    a1          | s1         | A          | heading  | own         | assigned | -         | deg       | -               | -            | 300        | -      | yes          | no target heading
    b1          | s2         | A          | altitude | own         | assigned | 200       | ft        | 0               | 0.95         | 100        | yes    | yes          | -
    c1          | s3         | A          | altitude | own         | assigned | 200       | ft        | 0.4             | -            | 100        | -      | yes          | -
"""  # fmt: skip


@pytest.fixture(scope="module")
def found() -> dict[tuple[str, str], dict[str, Any]]:
    return {
        (r["session_id"], r["aspect"]): r for r in rows_of("session_scores", maneuver_scores=SCORES)
    }


Found = dict[tuple[str, str], dict[str, Any]]


def test_ratios_are_averaged_geometrically_and_held_control_plainly(found: Found) -> None:
    assert found["s1", "altitude"]["tolerance_ratio"] == pytest.approx(1.0)
    assert found["s1", "trim"]["tolerance_ratio"] == pytest.approx(1.25)


def test_inferred_maneuvers_beside_assigned_ones_stay_out(found: Found) -> None:
    assert found["s1", "altitude"]["maneuver_count"] == 2
    assert found["s1", "altitude"]["basis"] == "assigned"


def test_a_session_is_consistent_when_95_percent_of_its_level_time_was_inside(found: Found) -> None:
    assert found["s1", "altitude"]["in_tolerance"] == pytest.approx((300 + 80) / 400)
    assert found["s1", "altitude"]["is_consistent"] is True
    assert found["s2", "altitude"]["is_consistent"] is True
    assert found["s1", "trim"]["is_consistent"] is False


def test_a_perfect_hold_is_floored_not_minus_infinity(found: Found) -> None:
    assert math.isclose(found["s2", "altitude"]["tolerance_ratio"], 0.05)


def test_without_a_figure_there_is_a_reason_and_without_times_no_verdict(found: Found) -> None:
    heading = found["s1", "heading"]
    assert (heading["maneuver_count"], heading["tolerance_ratio"], heading["is_consistent"]) == (
        0,
        None,
        None,
    )
    assert heading["score_reason"] == "no target heading"
    assert found["s3", "altitude"]["is_consistent"] is None
