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


def test_what_is_left_out_is_counted_by_reason() -> None:
    rows = rows_of(
        "page_left_out",
        exclusions="""
            aspect   | reason     | student_id | maneuver_id
            altitude | rough air  | A          | -
            altitude | rough air  | A          | -
            altitude | rough air  | B          | -
            altitude | too short  | B          | m1""",
    )
    assert [
        (r["reason"], r["session_count"], r["maneuver_count"], r["student_count"]) for r in rows
    ] == [
        ("rough air", 3, 0, 2),
        ("too short", 0, 1, 1),
    ]


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


def test_what_points_at_a_device_is_told_in_a_sentence() -> None:
    rows = rows_of(
        "page_suspect_devices",
        device_notes="aspect | device_id | note\naltitude | D2 | D2: altitude figures are wider",
        device_health="""
            device_id | device_check:text     | value | unit      | bound | is_well | since_date | session_count
            D1        | pitch control at rest | 0.061 | of travel | 0.03  | no      | -          | 49
            D1        | roll control at rest  | 0.001 | of travel | 0.03  | yes     | -          | 49
            D1        | pitch control stepped | 0.05  | of travel | 0.02  | no      | 2026-03-01 | 49
            D3        | bank reads off        | -     | deg       | 2     | -       | -          | 2""",
    )
    assert [r["sentence"] for r in rows] == [
        "D1: pitch control at rest: 0.061 of travel, where at most 0.03 is well (49 sessions)",
        "D1: pitch control stepped: 0.05 of travel, where at most 0.02 is well (49 sessions, since 2026-03-01)",
        "D2: altitude figures are wider",
    ]
