"""followed_events: the level-offs and power changes that count, and when they were trimmed."""

from tests.tables import rows_of

INPUTS = {
    "as_of": "as_of_date\n2026-03-31",
    "maneuvers": """
        maneuver_id | session_id | kind      | flown_by   | start_s
        a1          | s1         | level_off | student    | 10
        a2          | s1         | level_off | instructor | 90
        a3          | s1         | level_off | student    | 200
        a4          | s1         | level_off | student    | 300
        a5          | s1         | level_off | student    | 400
        b1          | s2         | level_off | student    | 10
        c1          | s3         | level_off | student    | 10
        d1          | s4         | level_off | student    | 10
        e1          | s5         | level_off | student    | 10""",
    "maneuver_states": """
        maneuver_id | is_autopilot_on
        a3          | yes
        a1          | no""",
    "sessions": """
        session_id | student_id | cohort | device_class | session_date | started_at       | air
        s1         | A          | c1     | simulator    | 2026-03-01   | 2026-03-01T09:00 | -
        s2         | A          | c1     | simulator    | 2026-03-02   | 2026-03-02T09:00 | rough
        s3         | A          | c1     | simulator    | 2026-04-02   | 2026-04-02T09:00 | smooth
        s4         | A          | c1     | simulator    | 2026-03-03   | 2026-03-03T09:00 | smooth
        s5         | A          | c1     | simulator    | 2026-03-04   | 2026-03-04T09:00 | smooth""",
    "session_air": """
        session_id | is_rougher
        s1         | no
        s2         | yes""",
    "session_gates": """
        session_id | severity   | channel
        s4         | not_scored | -
        s1         | not_scored | heading_deg""",
    "trim_settling": """
        maneuver_id | trim_settle_s | is_settled | followed_s | trim_set_s | is_set | set_followed_s
        a1          | 40            | yes        | 70         | -          | no     | 60
        a2          | 40            | yes        | 70         | -          | no     | 60
        a3          | 40            | yes        | 70         | -          | no     | 60
        a4          | -             | no         | 70         | -          | no     | 60
        a5          | -             | -          | -          | -          | -      | -
        b1          | 40            | yes        | 70         | 50         | yes    | 60
        c1          | 40            | yes        | 70         | 50         | yes    | 60
        d1          | 40            | yes        | 70         | 50         | yes    | 60
        e1          | 40            | yes        | 70         | 50         | yes    | 60""",
    "reviews": """
        kind      | session_id | maneuver_id | aspect
        set-aside | s5         | -           | trim""",
}  # fmt: skip


def test_only_the_students_own_events_in_calm_air_with_nothing_against_them_count() -> None:

    rows = rows_of("followed_events", **INPUTS)
    found = {(r["maneuver_id"], r["figure"]): (r["is_settled"], r["time_s"]) for r in rows}
    assert found == {
        ("a1", "settled"): (True, 40),
        ("a1", "set"): (False, 60),
        ("a1", "settled or set"): (True, 40),
        ("a4", "settled"): (False, 70),
        ("a4", "set"): (False, 60),
        ("a4", "settled or set"): (False, 60),
    }
