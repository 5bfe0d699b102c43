"""The small relations that pages list: evidence, students, what is left out, checks, devices."""

# ruff: noqa: E501 (tables in text are wide)

from __future__ import annotations

import pyarrow as pa

from tests.tables import rows_of, table


def test_evidence_leads_from_a_flag_to_the_seconds_of_its_maneuvers() -> None:
    rows = rows_of(
        "page_evidence",
        flags="student_id | aspect | stratum | tolerance\nA | altitude | sim | 200",
        evidence_maneuvers="""
            student_id | aspect   | stratum | maneuver_id | session_id | session_date | tolerance_ratio
            A          | altitude | sim     | m1          | s1         | 2026-03-01   | 1.5
            A          | altitude | air     | m2          | s1         | 2026-03-01   | 0.5
            A          | heading  | sim     | m1          | s1         | 2026-03-01   | 0.4""",
        maneuvers="maneuver_id | basis:text | start_s | end_s | target_altitude_ft | target_heading_deg\nm1 | assigned | 12 | 90 | 3000 | 90\nm2 | assigned | 100 | 190 | 3000 | 90",
        sessions="session_id | device_id\ns1 | D1",
    )
    assert [
        (r["maneuver_id"], r["start_s"], r["end_s"], r["held"], r["device_id"]) for r in rows
    ] == [("m1", 12.0, 90.0, 300.0, "D1")]


def test_a_student_s_aspects_stand_side_by_side() -> None:
    rows = rows_of(
        "page_students",
        student_states="""
            student_id | aspect   | cohort | stage | state               | is_flagged | is_not_seen | last_session_date | sessions_flown
            A          | altitude | c1     | solo  | meets the standard  | no         | no          | 2026-03-01        | 5
            A          | heading  | c1     | solo  | meets the standard  | no         | no          | 2026-03-01        | 5
            A          | trim     | c1     | solo  | meets the standard  | no         | no          | 2026-03-01        | 5
            B          | altitude | -      | -     | outside the standard| yes        | yes         | 2026-02-01        | 4
            B          | heading  | -      | -     | insufficient data   | no         | yes         | 2026-02-01        | 4
            B          | trim     | -      | -     | meets the standard  | no         | yes         | 2026-02-01        | 4""",
        student_standards="student_id | standard_id | standard_reason\nA | easy | -\nB | easy | no stage",
        standard_changes="student_id | changed_on:text | change_reason\nA | 2026-02-01 | earlier\nA | 2026-02-09 | later",
    )
    first, second = rows
    assert first["is_all_met"]
    assert (first["standard_change_reason"], second["standard_change_reason"]) == ("later", None)
    assert first["flag_count"] == 0
    assert (second["cohort"], second["stage"]) == ("(none)", "(none)")
    assert (second["altitude_state"], second["heading_state"]) == (
        "outside the standard",
        "insufficient data",
    )
    assert not second["is_all_met"]
    assert second["is_not_seen"]
    assert second["flag_count"] == 1


def test_what_is_left_out_is_counted_by_reason_and_aspect() -> None:
    rows = rows_of(
        "page_left_out",
        exclusions="""
            student_id | aspect   | session_id | maneuver_id | reason
            A          | altitude | s1         | -           | rougher air (rough)
            A          | trim     | s1         | -           | rougher air (rough)
            B          | altitude | s2         | -           | rougher air (rough)
            B          | altitude | s3         | m1          | flown by the instructor
            B          | heading  | s3         | m1          | flown by the instructor
            A          | trim     | s4         | -           | the neutral of device D1 is known only to ±0.005
            B          | trim     | s5         | -           | the neutral of device D2 is known only to ±0.009
            B          | altitude | s6         | m2          | set aside by an instructor: traffic
            B          | altitude | s6         | m3          | set aside by an instructor: a demonstration""",
        session_figures="""
            student_id | aspect   | session_id | level_count | figure_reason
            C          | altitude | s7         | 0           | no level maneuver in the session
            A          | altitude | s4         | 3           | -""",
    )
    kinds = ("sessions", "maneuvers")
    counts = {
        r["reason"]: [r[f"{a}_{k}"] for k in kinds for a in ("altitude", "heading", "trim")]
        for r in rows
    }
    assert counts == {
        "rougher air (rough)": [2, 0, 1, 0, 0, 0],
        "where the control rests (its neutral) is not known closely enough": [0, 0, 2, 0, 0, 0],
        "no level maneuver in the session": [1, 0, 0, 0, 0, 0],
        "set aside by an instructor": [0, 0, 0, 2, 0, 0],
        "flown by the instructor": [0, 0, 0, 1, 1, 0],
    }
    assert next(iter(counts)) == "rougher air (rough)"


GATES = """
    session_id | gate:text | channel     | severity | detail:text
    s1         | frozen    | airspeed_kt | suspect  | first
    s2         | frozen    | airspeed_kt | suspect  | second
    s2         | frozen    | airspeed_kt | suspect  | again
    s3         | gaps      | -           | note     | long"""
FLOWN = "session_id | device_id | session_date\ns1 | D1 | 2026-03-01\ns2 | D1 | 2026-03-02\ns3 | - | 2026-03-03"


def test_checks_are_counted_by_session_with_the_latest_as_an_example() -> None:
    rows = rows_of("page_checks", session_gates=GATES, sessions=FLOWN)
    assert [(r["gate"], r["session_count"], str(r["latest_date"])) for r in rows] == [
        ("frozen", 2, "2026-03-02"),
        ("gaps", 1, "2026-03-03"),
    ]
    assert rows[0]["example"] in {"s2: second", "s2: again"}


def test_checks_are_counted_by_device() -> None:
    rows = rows_of("page_device_checks", session_gates=GATES, sessions=FLOWN)
    assert [(r["device_id"], r["gate"], r["session_count"]) for r in rows] == [
        ("(not named)", "gaps", 1),
        ("D1", "frozen", 2),
    ]


def test_channels_that_some_session_lacks_are_named() -> None:
    sessions = table("session_id\ns1\ns2").append_column(
        "channels",
        pa.array(
            [
                [
                    "airspeed_kt",
                    "bank_deg",
                    "pitch_control",
                    "pitch_trim",
                    "power",
                    "vertical_speed_fpm",
                ],
                ["airspeed_kt", "bank_deg", "pitch_control", "power"],
            ]
        ),
    )
    rows = rows_of("page_missing_channels", sessions=sessions)
    assert [(r["channel"], r["session_count"], r["all_sessions"]) for r in rows] == [
        ("pitch_trim", 1, 2),
        ("vertical_speed_fpm", 1, 2),
    ]


def test_a_device_s_latest_effect_is_shown_and_none_where_nobody_links_it() -> None:
    rows = rows_of(
        "page_device_effects",
        device_effects="""
            aspect   | device_class | device_id | session_date | effect_ln | session_count | student_count | linking_students
            altitude | simulator    | D1        | 2026-03-01   | 0.5       | 3             | 3             | 3
            altitude | simulator    | D1        | 2026-03-02   | 0.2       | 4             | 4             | 4
            altitude | simulator    | D2        | 2026-03-02   | -0.2      | 4             | 4             | 4
            altitude | aeroplane    | P1        | 2026-03-01   | 0.0       | 2             | 2             | 0""",
        device_notes="aspect | device_class | device_id | note\naltitude | simulator | D1 | D1 is wide",
    )
    assert [(r["device_id"], r["effect_percent"], r["is_named"]) for r in rows] == [
        ("P1", None, False),
        ("D1", 22.1, True),
        ("D2", -18.1, False),
    ]
    assert rows[0]["effect_reason"] == "nobody flew another device of its class"


def test_a_device_day_carries_one_standard_error_up_and_down() -> None:
    rows = rows_of(
        "page_device_days",
        device_neutrals="""
            device_id | session_date | pitch_neutral | neutral_se | student_count | neutral_reason
            D1        | 2026-03-02   | 0.06          | 0.01       | 5             | -
            D1        | 2026-03-09   | 0.06          | 0.01       | 5             | -
            D1        | 2025-03-02   | 0.06          | 0.01       | 5             | -""",
        as_of="as_of_date\n2026-03-05",
    )
    (row,) = rows
    assert (round(row["neutral_low"], 6), round(row["neutral_high"], 6)) == (0.05, 0.07)


DEVICE_HEALTH = """
    device_id | device_check:text               | value  | unit      | bound | is_well | since_date | session_count | device_reason
    D1        | pitch control at rest           | 0.061  | of travel | 0.03  | no      | -          | 49            | -
    D1        | roll control at rest            | -0.0001 | of travel | 0.03 | yes     | -          | 49            | -
    D1        | pitch control stepped           | 0.05   | of travel | 0.02  | no      | 2026-03-01 | 49            | -
    D1        | roll control stepped            | 0      | of travel | 0.02  | yes     | -          | 49            | -
    D2        | sessions with a suspect channel | 1      | sessions  | 0     | no      | -          | 46            | -
    D2        | pitch_control in steps of       | 0.02   | of travel | 0.01  | no      | -          | 46            | -
    D3        | bank reads off                  | -      | deg       | 2     | -       | -          | 2             | too few
    D3        | vertical speed reads off        | -45.21 | ft/min    | 30    | no      | -          | 2             | -"""


def test_a_check_of_a_device_is_told_as_a_person_would_say_it() -> None:
    rows = {
        (r["device_id"], r["check_words"]): (r["found_words"], r["well_words"])
        for r in rows_of("page_device_health", device_health=DEVICE_HEALTH)
    }
    assert rows["D1", "where the roll control rests"] == (
        "0 of its travel",
        "up to 0.03 of its travel either way",
    )
    assert rows["D1", "shift of where the roll control rests"][0] == "none seen"
    assert rows["D2", "sessions in which a data check doubts a channel"] == ("1 of 46", "none")
    assert rows["D3", "bank read in steady level flight"][0] == "cannot be told"


def test_what_points_at_a_device_is_told_in_a_sentence() -> None:
    rows = rows_of(
        "page_suspect_devices",
        device_notes="aspect | device_id | note\naltitude | D2 | D2: altitude figures are wider",
        device_health=DEVICE_HEALTH,
    )
    assert [r["sentence"] for r in rows] == [
        "D1: the pitch control rests at +0.061 of its travel; up to 0.03 of its travel either way is normal",
        "D1: where the pitch control rests shifted by +0.05 of its travel on 1 Mar 2026; up to 0.02 of its travel either way is normal",
        "D2: altitude figures are wider",
        "D2: pitch control is recorded in steps of 0.02 of its travel; up to 0.01 of its travel is normal",
        "D2: a data check doubts a channel in 1 of 46 sessions; there should be none",
        "D3: vertical speed reads −45.2 ft/min in steady level flight; up to 30 ft/min either way is normal",
    ]


FINDINGS = (
    "student_id | aspect | stratum | since_date | session_no\nA | altitude | sim | 2026-03-05 | 3"
)
STUDENT_SESSIONS = """
    student_id | aspect   | stratum | session_date | is_counted | maneuver_count | p_not_met
    A          | altitude | sim     | 2026-03-01   | yes        | 3              | 0.9
    A          | altitude | sim     | 2026-03-05   | yes        | 2              | 0.95
    A          | altitude | sim     | 2026-03-09   | yes        | 4              | 0.4
    A          | altitude | sim     | 2026-03-10   | no         | 8              | -
    A          | altitude | air     | 2026-03-11   | yes        | 8              | 0.1
    A          | heading  | sim     | 2026-03-11   | yes        | 8              | 0.1"""


def test_sessions_since_a_flag_was_raised_are_told_apart_from_all() -> None:
    (row,) = rows_of("page_findings", flags=FINDINGS, page_student_sessions=STUDENT_SESSIONS)
    assert (row["sessions_counted"], row["sessions_since"]) == (3, 2)
    assert row["maneuver_count"] == 9


def test_a_finding_is_outside_from_the_session_after_the_last_that_was_likely_inside() -> None:
    """Exactly even is not outside; a likely inside after the raising does not count."""
    (first,) = rows_of("page_findings", flags=FINDINGS, page_student_sessions=STUDENT_SESSIONS)
    assert (str(first["outside_from_date"]), first["is_outside_from_first"]) == ("2026-03-01", True)
    even = """
    A          | altitude | sim     | 2026-02-20   | yes        | 3              | 0.7
    A          | altitude | sim     | 2026-02-26   | yes        | 3              | 0.5"""
    (later,) = rows_of(
        "page_findings", flags=FINDINGS, page_student_sessions=STUDENT_SESSIONS + even
    )
    assert (str(later["outside_from_date"]), later["is_outside_from_first"]) == (
        "2026-03-01",
        False,
    )


def test_cohorts_without_a_standard_in_common_are_named_as_not_compared() -> None:
    first, second, third = rows_of(
        "page_cohort_pairs",
        current_levels="""
            aspect   | cohort | standard_id | session_no
            altitude | c1     | easy        | 4
            altitude | c1     | hard        | 4
            altitude | c2     | hardest     | 4
            altitude | c2     | easy        | 1
            altitude | c3     | easy        | 4
            altitude | c3     | hardest     | 4
            trim     | c1     | easy        | 4
            trim     | c2     | hardest     | 4""",
        cohort_differences="""
            aspect   | cohort | other_cohort:text
            altitude | c1     | c3""",
    )
    assert (first["cohort"], first["other_cohort"]) == ("c1", "c2")
    assert (first["standards"], first["other_standards"]) == ("easy, hard", "hardest")
    assert first["pair_reason"] == "no shared standard"
    assert (second["cohort"], second["other_cohort"]) == ("c2", "c3")
    assert second["pair_reason"] == "no shared device class"
    assert (third["aspect"], third["standards"]) == ("trim", None)
    assert third["pair_reason"] == "no shared device class"
