"""flag_history: when a flag is raised, stays, clears and may come back."""

# ruff: noqa: E501 (tables in text are wide)

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

from tests.tables import rows_of

START = date(2026, 3, 1)
ON, OFF = 0.8416, 0.0


def history(
    sessions: Sequence[tuple[int, float] | tuple[int, float, float]],
    *,
    outside: Sequence[bool] | None = None,
    rising: Sequence[int] = (),
    falling: Sequence[int] = (),
) -> list[dict[str, Any]]:
    """The fold over one student's sessions, each (day, z) or (day, z as flown, z with the device taken off)."""
    figures = "session_id | student_id | aspect | stratum | session_no | session_date | ln_ratio | is_counted\n"
    levels = "session_id | aspect | is_adjusted | z\n"
    trends = "session_id | aspect | is_adjusted | is_rising | is_falling\n"
    for n, session in enumerate(sessions, 1):
        day, z = START + timedelta(days=session[0]), session[1]
        is_out = outside[n - 1] if outside is not None else z > 0
        figures += (
            f"s{n:02d} | A | altitude | sim | {n} | {day} | {0.5 if is_out else -0.5} | yes\n"
        )
        for adjusted, value in (("no", z), ("yes", session[-1])):
            levels += f"s{n:02d} | altitude | {adjusted} | {value}\n"
            up, down = "yes" if n in rising else "no", "yes" if n in falling else "no"
            trends += f"s{n:02d} | altitude | {adjusted} | {up} | {down}\n"
    return rows_of(
        "flag_history", session_figures=figures, session_levels=levels, session_trends=trends
    )


def flagged(
    sessions: Sequence[tuple[int, float] | tuple[int, float, float]],
    *,
    outside: Sequence[bool] | None = None,
    rising: Sequence[int] = (),
    falling: Sequence[int] = (),
) -> list[bool]:
    rows = history(sessions, outside=outside, rising=rising, falling=falling)
    return [row["is_flagged"] for row in rows]


def test_three_sessions_outside_at_four_chances_in_five_raise_a_flag() -> None:
    assert flagged([(0, 2), (1, 2), (2, ON)]) == [False, False, True]
    assert history([(0, 2), (1, 2), (2, ON)])[-1]["since_date"] == START + timedelta(days=2)


def test_just_below_four_chances_in_five_raises_none() -> None:
    assert flagged([(0, 2), (1, 2), (2, ON - 1e-9)]) == [False] * 3


def test_three_of_the_last_four_sessions_must_have_been_outside() -> None:
    z = [(0, 2), (1, 2), (2, 2), (3, 2)]
    assert flagged(z, outside=[True, True, False, True]) == [False, False, False, True]
    assert flagged(z, outside=[True, False, False, True]) == [False] * 4
    assert flagged(z, outside=[True, True, False, False]) == [False] * 4


def test_a_figure_on_the_edge_of_the_standard_is_inside() -> None:
    rows = history([(0, 2), (1, 2), (2, 2)], outside=[True, True, False])
    assert rows[-1]["recent_outside"] == 2


def test_it_clears_after_fourteen_days_inside_not_after_thirteen() -> None:
    raised = [(0, 2), (1, 2), (2, 2)]
    rows = history([*raised, (3, OFF), (14, OFF), (15, OFF), (16, OFF)])
    assert [r["is_flagged"] for r in rows[3:]] == [True, True, True, False]
    assert rows[-1]["cleared_date"] == START + timedelta(days=16)


def test_the_window_of_fourteen_days_holds_today_and_thirteen_days_before() -> None:
    raised = [(0, 2), (1, 2), (2, 2)]
    assert flagged([*raised, (10, OFF), (15, OFF)])[-1] is True  # day 2 is in sight: 15 - 13 = 2
    assert flagged([*raised, (10, OFF), (16, OFF)])[-1] is False


def test_after_a_long_gap_the_session_before_it_counts_too() -> None:
    raised = [(0, 2), (1, 2), (2, 2)]
    assert flagged([*raised, (40, OFF)])[-1] is True
    assert flagged([*raised, (40, OFF), (41, OFF)])[-1] is False


def test_one_session_just_above_evens_keeps_the_flag() -> None:
    raised = [(0, 2), (1, 2), (2, 2)]
    assert flagged([*raised, (10, 1e-9), (16, OFF)])[-1] is True


def test_it_comes_back_on_the_fifteenth_day_after_clearing_not_before() -> None:
    cleared = [(0, 2), (1, 2), (2, 2), (10, OFF), (16, OFF)]
    outside = [True] * 6
    assert flagged([*cleared, (30, 2)], outside=outside)[-1] is False  # day 14
    assert flagged([*cleared, (31, 2)], outside=outside)[-1] is True  # day 15


def test_the_sessions_of_one_day_are_taken_in_order() -> None:
    rows = history([(0, 2), (0, 2), (0, 2), (14, OFF), (14, 2)])
    assert [r["is_flagged"] for r in rows] == [False, False, True, True, True]
    assert rows[3]["is_clear"] is False  # the session before was outside
    assert history([(0, 2), (0, 2), (0, 2), (14, 0), (15, 0), (15, 2)])[4]["is_clear"] is True


def test_outside_only_as_flown_is_a_doubt_about_the_device_and_no_flag() -> None:
    rows = history([(0, 2, 2), (1, 2, 2), (2, 2, 0.5)])
    assert [(r["is_flagged"], r["is_device_doubt"]) for r in rows][-1] == (False, True)


def test_outside_only_with_the_device_taken_off_raises_none() -> None:
    assert flagged([(0, 2, 2), (1, 2, 2), (2, 0.5, 2)], outside=[True] * 3)[-1] is False


def test_slipping_raises_once_it_is_as_likely_outside_as_inside() -> None:
    sessions = [(i, 0.1) for i in range(6)]
    assert flagged(sessions, rising=[6])[-1] is True
    assert flagged([(i, -0.1) for i in range(6)], rising=[6])[-1] is False


def test_improving_holds_back_a_new_flag_and_clears_none() -> None:
    sessions = [(i, 0.1) for i in range(5)] + [(5, 2.0)]
    assert flagged(sessions, falling=[6])[-1] is False
    assert flagged([*sessions, (6, 2.0)], falling=[7])[-1] is True


def test_a_single_extreme_session_among_sessions_inside_cannot_raise() -> None:
    sessions = [(i, -1.0) for i in range(5)] + [(5, 3.0)] + [(i, 3.0) for i in range(6, 9)]
    outside = [False] * 5 + [True] + [False] * 3
    assert flagged(sessions, outside=outside) == [False] * 9


def test_strata_have_their_own_fold() -> None:
    figures = "session_id | student_id | aspect | stratum | session_no | session_date | ln_ratio | is_counted\n"
    levels = "session_id | aspect | is_adjusted | z\n"
    trends = "session_id | aspect | is_adjusted | is_rising | is_falling\n"
    for stratum in ("sim", "plane"):
        for n in (1, 2, 3):
            figures += f"{stratum}{n} | A | altitude | {stratum} | {n} | 2026-03-0{n} | 0.5 | yes\n"
            for adjusted in ("no", "yes"):
                levels += (
                    f"{stratum}{n} | altitude | {adjusted} | {2 if stratum == 'sim' else -2}\n"
                )
                trends += f"{stratum}{n} | altitude | {adjusted} | no | no\n"
    rows = rows_of(
        "flag_history", session_figures=figures, session_levels=levels, session_trends=trends
    )
    assert {r["stratum"] for r in rows if r["is_flagged"]} == {"sim"}
