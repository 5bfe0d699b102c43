"""What is said of two cohorts: also that they are at different points of their training."""

from __future__ import annotations

from typing import Any

from pipeline.pages.cohort_words import differences
from pipeline.pages.gather import Gathered

COMPARED = {
    "aspect": "trim",
    "stratum": "simulator",
    "cohort": "autumn",
    "other_cohort": "winter",
    "student_count": 3,
    "other_students": 3,
    "ratio": 1.03,
    "ratio_low": 0.8,
    "ratio_high": 1.3,
    "difference_reason": None,
}


def sessions(cohort: str, weeks: list[float], counted: int = 3) -> list[dict[str, Any]]:
    """Students of a cohort, one for each of `weeks`, the week of training of their latest session."""
    return [
        {
            "student_id": f"{cohort}-{n}",
            "cohort": cohort,
            "aspect": "trim",
            "stratum": "simulator",
            "is_counted": True,
            "weeks_in": week - 0.1 * ago,
        }
        for n, week in enumerate(weeks)
        for ago in range(counted)
    ]


def words_of(*flown: list[dict[str, Any]]) -> str:
    given = Gathered(
        {
            "cohort_differences": [COMPARED],
            "page_cohort_pairs": [],
            "page_student_sessions": [row for rows in flown for row in rows],
            "limits": [{"flag_minimum_sessions": 3.0}],
        }
    )
    (told,) = differences(given)
    return told["words"]


def test_cohorts_without_a_week_in_common_are_told_to_be_apart() -> None:
    told = words_of(sessions("autumn", [18.0, 25.2]), sessions("winter", [1.4, 9.0]))
    assert told.endswith(
        "They are at different points of their training: autumn in weeks 18 to 25, winter in weeks 1 to 9."
    )


def test_cohorts_with_a_week_in_common_are_not() -> None:
    told = words_of(sessions("autumn", [9.0, 25.0]), sessions("winter", [1.0, 9.0]))
    assert "points of their training" not in told


def test_who_flew_too_little_to_be_compared_does_not_count_for_the_weeks() -> None:
    early = sessions("autumn", [1.0], counted=2)
    told = words_of(sessions("autumn", [18.0]), early, sessions("winter", [9.0]))
    assert "autumn in week 18, winter in week 9." in told
