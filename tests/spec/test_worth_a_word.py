"""worth_a_word: habits that no flag tells."""

# ruff: noqa: E501 (tables in text are wide)

from tests.tables import rows_of

INPUTS = {
    "student_states": """
        student_id | aspect | cohort | is_flagged
        A          | trim   | c1     | no
        B          | trim   | c1     | no
        C          | trim   | c1     | no
        D          | trim   | c1     | yes""",
    "current_levels": """
        student_id | aspect   | stratum | device_class | is_current | p_not_met
        A          | altitude | sim     | simulator    | yes        | 0.1
        B          | altitude | sim     | simulator    | yes        | 0.5
        C          | altitude | sim     | simulator    | yes        | 0.51
        D          | altitude | sim     | simulator    | yes        | 0.1""",
    "fault_signs": """
        student_id | aspect   | stratum | is_chasing | reversals_per_min | near_zero_vs
        A          | altitude | sim     | yes        | 14.2              | 0.13
        B          | altitude | sim     | no         | 2                 | 0.8
        C          | altitude | sim     | no         | 2                 | 0.8
        D          | altitude | sim     | yes        | 14                | 0.1""",
    "settling_shares": """
        student_id | session_id | device_class | event_count | settled_share | share_low | share_high | is_slow | is_latest
        A          | a1         | simulator    | 12          | 0.6           | 0.4       | 0.8        | no      | yes
        B          | b1         | simulator    | 14          | 0.143         | 0.06      | 0.317      | yes     | yes
        B          | b0         | simulator    | 13          | 0.1           | 0.06      | 0.317      | yes     | no
        C          | c1         | simulator    | 14          | 0.143         | 0.06      | 0.317      | yes     | yes
        D          | d1         | simulator    | 14          | 0.143         | 0.06      | 0.317      | yes     | yes""",
}


def test_chasing_and_late_trim_are_told_where_no_flag_tells_of_trim() -> None:
    rows = rows_of("worth_a_word", **INPUTS)
    assert [(r["student_id"], r["habit"]) for r in rows] == [("A", "chasing"), ("B", "late_trim")]
    assert rows[0]["sentence"] == (
        "the control reverses 14 times a minute and the vertical speed is near zero for only 13 % of the time: "
        "it looks like chasing the needle"
    )
    assert rows[1]["sentence"] == (
        "trimmed in time after 14 % of the last 14 level-offs and power changes (80 % interval 6 to 32 %)"
    )
    assert all(r["exercise"] for r in rows)
