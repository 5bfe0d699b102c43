"""assigned_parts: an assigned maneuver is split where the simulator jumped or paused."""

# ruff: noqa: E501 (tables in text are wide)

from tests.logs import breaks
from tests.tables import rows_of

MANEUVERS = """
    maneuver_id | session_id | revision | kind      | basis    | start_s | end_s | target_altitude_ft | target_heading_deg | flown_by
    s1.1.01     | s1         | 1        | level     | assigned | 10      | 100   | 3000               | 90                 | student
    s1.1.02     | s1         | 1        | level_off | assigned | 100     | 220   | 3000               | 90                 | student"""


def parts(*found: tuple[str, int, int]) -> list[tuple[str, str, float, float]]:
    rows = rows_of("assigned_parts", assigned_maneuvers=MANEUVERS, session_breaks=breaks(*found))
    return sorted((r["maneuver_id"], r["kind"], r["start_s"], r["end_s"]) for r in rows)


WHOLE = [("s1.1.01", "level", 10, 100), ("s1.1.02", "level_off", 100, 220)]


def test_without_a_break_a_maneuver_is_whole() -> None:
    assert parts() == WHOLE


def test_a_gap_splits_nothing() -> None:
    assert parts(("gap", 20000, 60000)) == WHOLE


def test_a_jump_splits_between_two_samples_and_a_pause_is_left_out() -> None:
    assert parts(("jump", 49750, 50000), ("pause", 70000, 80000)) == [
        ("s1.1.01", "level", 10, 49.75),
        ("s1.1.01-2", "level", 50, 70),
        ("s1.1.01-3", "level", 80, 100),
        WHOLE[1],
    ]


def test_after_a_jump_a_level_off_goes_on_as_level_flight() -> None:
    assert parts(("jump", 149750, 150000)) == [
        WHOLE[0],
        ("s1.1.02", "level_off", 100, 149.75),
        ("s1.1.02-2", "level", 150, 220),
    ]


def test_a_break_of_another_session_splits_nothing() -> None:
    rows = rows_of(
        "assigned_parts",
        assigned_maneuvers=MANEUVERS,
        session_breaks=breaks(("jump", 49750, 50000), session_id="s2"),
    )
    assert len(rows) == 2


def test_a_maneuver_that_was_asked_for_in_a_pause_begins_after_it_and_keeps_its_kind() -> None:
    assert parts(("pause", 95000, 105000), ("jump", 105000, 105250)) == [
        ("s1.1.01", "level", 10, 95),
        ("s1.1.02", "level_off", 105.25, 220),
    ]


def test_a_jump_between_the_samples_about_a_start_splits_nothing() -> None:
    assert parts(("jump", 100000, 100250)) == [
        WHOLE[0],
        ("s1.1.02", "level_off", 100.25, 220),
    ]


def test_a_maneuver_wholly_in_a_pause_is_kept_without_length() -> None:
    assert parts(("pause", 90000, 300000)) == [
        ("s1.1.01", "level", 10, 90),
        ("s1.1.02", "level_off", 220, 220),
    ]
