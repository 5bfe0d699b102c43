"""maneuver_scores: each scored level maneuver against the standard of the student's current stage."""

from typing import Any

from tests.tables import rows_of

INPUTS = {
    "maneuvers": """
        maneuver_id | session_id | kind   | basis    | observed_s | is_scored
        s1.01       | s1         | level  | assigned | 60         | yes
        s1.02       | s1         | level  | assigned | 120        | yes
        s1.03       | s1         | level  | assigned | 90         | no
        s1.04       | s1         | turn   | assigned | 90         | yes
        s1.i1       | s1         | level  | inferred | 90         | yes
        s2.i1       | s2         | level  | inferred | 90         | yes""",
    "sessions": """
        session_id | student_id
        s1         | A
        s2         | B""",
    "student_standards": """
        student_id | standard_id
        A          | first-lessons
        B          | altitude-only""",
    "standards": """
        standard_id   | channel  | tolerance
        first-lessons | altitude | 200
        first-lessons | heading  | 20
        altitude-only | altitude | 100""",
    "altitude_hold": """
        maneuver_id | altitude_hold95_ft | altitude_hold_reason
        s1.01       | 200                | -
        s1.02       | 300                | -
        s1.03       | 500                | -
        s1.04       | 100                | -
        s1.i1       | 50                 | -
        s2.i1       | 150                | -""",
    "heading_hold": """
        maneuver_id | heading_hold95_deg | heading_hold_reason
        s1.01       | 5                  | -
        s1.02       | -                  | no target heading
        s2.i1       | 5                  | -""",
    "held_control": """
        maneuver_id | held_control | held_force_n | is_untrimmed | held_control_reason
        s1.01       | -0.10        | -            | yes          | -
        s1.02       | -            | 5            | no           | -
        s2.i1       | -            | -            | -            | pitch control not logged""",
    "tolerance_excursions": """
        maneuver_id | channel  | tolerance | in_tolerance | excursions_2x | longest_out_s | excursions_reason
        s1.01       | altitude | 200       | 0.95         | 0             | 21            | -
        s1.01       | altitude | 100       | 0.15         | 2             | 61            | -
        s1.02       | altitude | 200       | 0.80         | 0             | 21.5          | -
        s1.01       | heading  | 20        | 1            | 1             | 3             | -
        s2.i1       | altitude | 100       | -            | -             | -             | steps too long""",
    "reviews": """
        kind      | session_id | maneuver_id | aspect  | note
        set-aside | -          | s9.01       | -       | -""",
}  # fmt: skip


def scores(**changed: str) -> dict[tuple[str, str], dict[str, Any]]:
    return {
        (r["maneuver_id"], r["aspect"]): r
        for r in rows_of("maneuver_scores", **{**INPUTS, **changed})
    }


def test_scored_level_maneuvers_get_a_row_per_aspect_and_others_none() -> None:
    assert sorted({m for m, _ in scores()}) == ["s1.01", "s1.02", "s1.i1", "s2.i1"]
    assert len(scores()) == 12


def test_the_ratio_is_hold95_over_the_tolerance() -> None:
    found = scores()
    assert found["s1.01", "altitude"]["tolerance_ratio"] == 1.0
    assert found["s1.02", "altitude"]["tolerance_ratio"] == 1.5
    assert found["s1.01", "heading"]["tolerance_ratio"] == 0.25


def test_the_trim_ratio_is_the_held_control_or_force_over_its_limit() -> None:
    found = scores()
    control, force = found["s1.01", "trim"], found["s1.02", "trim"]
    assert (control["tolerance_ratio"], control["unit"], control["is_met"]) == (
        2.0,
        "of travel",
        False,
    )
    assert (force["tolerance_ratio"], force["unit"], force["is_met"]) == (0.5, "N", True)


def test_met_allows_no_excursion_beyond_twice_the_band_and_none_longer_than_21_s() -> None:
    found = scores()
    assert found["s1.01", "altitude"]["is_met"] is True
    assert found["s1.02", "altitude"]["is_met"] is False
    assert found["s1.01", "heading"]["is_met"] is False


def test_what_cannot_be_scored_says_why() -> None:
    found = scores()
    assert found["s1.02", "heading"]["score_reason"] == "no target heading"
    assert (
        found["s2.i1", "heading"]["score_reason"]
        == "the standard altitude-only has no tolerance for heading"
    )
    assert found["s2.i1", "trim"]["score_reason"] == "pitch control not logged"
    assert found["s2.i1", "trim"]["tolerance_ratio"] is None
    assert found["s2.i1", "altitude"]["tolerance_ratio"] == 1.5
    assert (found["s2.i1", "altitude"]["is_met"], found["s2.i1", "altitude"]["met_reason"]) == (
        None,
        "steps too long",
    )


def test_a_maneuver_found_in_the_log_is_not_pooled_with_assigned_ones() -> None:
    found = scores()
    assert found["s1.i1", "altitude"]["is_in_figure"] is False
    assert found["s2.i1", "altitude"]["is_in_figure"] is True


def test_an_instructor_sets_aside_a_maneuver_an_aspect_or_a_session() -> None:
    found = scores(
        reviews="""kind      | session_id | maneuver_id | aspect   | note
                   set-aside | -          | s1.01       | altitude | traffic
                   set-aside | s2         | -           | -        | -"""
    )
    assert found["s1.01", "altitude"]["score_reason"] == "set aside by an instructor: traffic"
    assert found["s1.01", "altitude"]["tolerance_ratio"] is None
    assert found["s1.01", "heading"]["tolerance_ratio"] == 0.25
    assert found["s2.i1", "altitude"]["score_reason"] == "set aside by an instructor"
