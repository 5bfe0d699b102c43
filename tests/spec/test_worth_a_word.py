"""worth_a_word: habits that no flag tells."""

# ruff: noqa: E501 (tables in text are wide)

from tests.tables import rows_of

INPUTS = {
    "student_states": """
        student_id | aspect   | cohort | is_flagged
        A          | trim     | c1     | no
        A          | altitude | c1     | no
        B          | trim     | c1     | no
        C          | trim     | c1     | no
        D          | trim     | c1     | yes
        D          | altitude | c1     | no
        E          | trim     | c1     | no
        E          | altitude | c1     | yes""",
    "current_levels": """
        student_id | aspect   | stratum | device_class | is_current | p_not_met
        A          | altitude | sim     | simulator    | yes        | 0.1
        B          | altitude | sim     | simulator    | yes        | 0.5
        C          | altitude | sim     | simulator    | yes        | 0.51
        D          | altitude | sim     | simulator    | yes        | 0.1
        E          | altitude | sim     | simulator    | yes        | 0.9""",
    "fault_signs": """
        student_id | aspect   | stratum | is_chasing | reversals_per_min | near_zero_vs | is_wrong_way | wrong_share | is_by_trim | unsteady_share | is_overshooting | overshoot_ft | level_off_count
        A          | altitude | sim     | yes        | 14.2              | 0.13         | no           | 0           | yes        | 0.7            | no              | 20           | 4
        B          | altitude | sim     | no         | 2                 | 0.8          | no           | 0           | no         | 0.1            | no              | 20           | 4
        C          | altitude | sim     | no         | 2                 | 0.8          | no           | 0           | no         | 0.1            | no              | 20           | 4
        D          | altitude | sim     | yes        | 14                | 0.1          | no           | 0           | no         | 0.1            | yes             | 160          | 4
        E          | altitude | sim     | no         | 2                 | 0.8          | yes          | 0.62        | yes        | 0.7            | yes             | 160          | 4""",
    "settling_shares": """
        student_id | session_id | device_class | event_count | settled_share | share_low | share_high | is_slow | is_latest
        A          | a1         | simulator    | 12          | 0.6           | 0.4       | 0.8        | no      | yes
        B          | b1         | simulator    | 14          | 0.143         | 0.06      | 0.317      | yes     | yes
        B          | b0         | simulator    | 13          | 0.1           | 0.06      | 0.317      | yes     | no
        C          | c1         | simulator    | 14          | 0.143         | 0.06      | 0.317      | yes     | yes
        D          | d1         | simulator    | 14          | 0.143         | 0.06      | 0.317      | yes     | yes""",
}


def test_habits_are_told_where_no_flag_tells_of_the_aspect() -> None:
    rows = rows_of("worth_a_word", **INPUTS)
    assert [(r["student_id"], r["habit"], r["sentence"]) for r in rows] == [
        (
            "A",
            "chasing",
            "the control reverses 14 times a minute and the vertical speed is near zero for only 13 % of the time: "
            "it looks like chasing the needle",
        ),
        (
            "B",
            "late_trim",
            "trimmed in time after 14 % of the last 14 level-offs and power changes (80 % interval 6 to 32 %)",
        ),
        ("D", "overshoot", "level-offs overshoot by 160 ft (median of 4)"),
        ("E", "flying_by_trim", "70 % of the trim inputs came while still climbing or descending"),
        ("E", "trim_wrong_way", "62 % of the trim inputs went the wrong way"),
    ]
    assert all(r["exercise"] for r in rows)
