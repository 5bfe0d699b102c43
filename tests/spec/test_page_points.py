"""page_student_sessions, page_session_points, page_cohort_weeks, page_group_weeks, page_settling_points."""

# ruff: noqa: E501 (tables in text are wide)

from __future__ import annotations

from pipeline.relations import bind_table, build, connect
from tests.tables import rows_of, table

FIGURES = """
    session_id | student_id | aspect   | session_date | started_at          | cohort | device_id | device_class | air    | standard_id | tolerance | basis    | maneuver_count | tolerance_ratio | is_consistent | is_counted | figure_reason       | level_count | stratum
    s1         | A          | altitude | 2026-01-05   | 2026-01-05T09:00:00 | c1     | D1        | simulator    | smooth | easy        | 200       | assigned | 3              | 0.5             | yes           | yes        | -                   | 3 | sim
    s2         | A          | altitude | 2026-01-15   | 2026-01-15T09:00:00 | c1     | -         | simulator    | rough  | easy        | 200       | assigned | 3              | 2.5             | no            | no         | rougher air (rough) | 3 | sim
    s3         | A          | altitude | 2026-01-20   | 2026-01-20T09:00:00 | c1     | D1        | simulator    | -      | easy        | 200       | assigned | 3              | 0.4             | yes           | yes        | -                   | 3 | sim
    s4         | B          | altitude | 2026-01-20   | 2026-01-20T09:00:00 | c1     | D1        | simulator    | smooth | easy        | 200       | assigned | 0              | -               | -             | no         | no level maneuver   | 0 | sim"""
LEVELS = """
    session_id | aspect   | level_ratio | level_low | level_high | p_not_met | state
    s1         | altitude | 0.5         | 0.4       | 0.7        | 0.01      | insufficient data
    s3         | altitude | 0.45        | 0.4       | 0.6        | 0.01      | insufficient data"""


def student_sessions() -> list[dict[str, object]]:
    return rows_of(
        "page_student_sessions",
        session_figures=FIGURES,
        student_levels=LEVELS,
        sessions="session_id | lesson\ns1 | one\ns2 | two\ns3 | three\ns4 | four",
        students="student_id | stage | start_date | left_on\nA | solo | 2026-01-05 | 2026-01-24\nB | - | - | -",
        as_of="as_of_date\n2026-01-25",
    )


def test_a_session_that_does_not_count_is_shown_with_its_reason_and_no_level() -> None:
    rows = student_sessions()
    assert [r["session_id"] for r in rows] == ["s1", "s2", "s3"]
    rough = rows[1]
    assert (rough["figure_reason"], rough["level_ratio"], rough["tolerance_ratio"]) == (
        "rougher air (rough)",
        None,
        2.5,
    )


def test_weeks_count_from_the_student_s_start_and_back_from_the_date_asked_for() -> None:
    rows = student_sessions()
    assert [(r["weeks_in"], r["weeks_ago"], r["ago"]) for r in rows] == [
        (0.5, 2, 2),
        (1.93, 1, 1),
        (2.64, 0, 0),
    ]
    assert [r["air"] for r in rows] == ["smooth", "rough", "(not stated)"]
    assert rows[1]["device_id"] == "(not named)"
    assert all(r["has_left"] for r in rows)


def test_little_held_control_is_drawn_where_it_counts() -> None:
    trims = rows_of(
        "page_student_sessions",
        session_figures=FIGURES.replace("| altitude |", "| trim |").replace("| 0.4  ", "| 0.04 "),
        student_levels=LEVELS,
        sessions="session_id | lesson\ns1 | one\ns2 | two\ns3 | three\ns4 | four",
        students="student_id | stage | start_date | left_on",
        as_of="as_of_date\n2026-01-25",
    )
    assert [(r["tolerance_ratio"], r["drawn_ratio"]) for r in trims] == [
        (0.5, 0.5),
        (2.5, 2.5),
        (0.04, 0.25),
    ]
    assert all(r["drawn_ratio"] == r["tolerance_ratio"] for r in student_sessions())


def test_every_student_keeps_as_many_of_the_latest_sessions_as_there_is_room_for() -> None:
    lines = [
        f"{student} | altitude | s{student}{ago} | 2026-01-05 | c1 | solo | D1 | 0.5 | 0.5 | 3 | {ago} | 1 | {ago} | yes | no"
        for student in ("A", "B")
        for ago in range(5)
    ]
    heading = "student_id | aspect | session_id | session_date | cohort | stage | device_id | tolerance_ratio | drawn_ratio | maneuver_count | weeks_ago | weeks_in | ago | is_counted | has_left"
    con = connect()
    bind_table(con, "page_student_sessions", table("\n".join([heading, *lines])))
    bind_table(con, "own_limits", table("name | value\npage_points_maximum | 7"))
    build(con, ["page_session_points"], {"page_student_sessions", "own_limits"})
    kept = con.sql("SELECT session_id FROM page_session_points ORDER BY session_id").fetchall()
    assert [row[0] for row in kept] == ["sA0", "sA1", "sA2", "sB0", "sB1", "sB2"]


def test_weeks_of_a_cohort_are_counted_back_from_its_latest() -> None:
    rows = rows_of(
        "page_cohort_weeks",
        cohort_trends="""
            cohort | aspect   | week | device_class | median  | q1  | q3  | student_count | met_students | met_share | met_low | met_high | standards:text
            c1     | altitude | 1    | simulator    | 1.23456 | 1.0 | 1.5 | 3             | 1            | 0.3333333 | 0.06    | 0.79 | easy, hard
            c1     | altitude | 9    | simulator    | 0.8     | 0.7 | 0.9 | 3             | 3            | 1         | 0.44    | 1 | easy, hard
            c2     | altitude | 40   | simulator    | 0.8     | 0.7 | 0.9 | 3             | 3            | 1         | 0.44    | 1 | hard
            c2     | trim     | 40   | simulator    | 0.8     | 0.7 | 0.9 | 3             | 3            | 1         | 0.44    | 1 | -
            c1     | trim     | 9    | simulator    | 0.8     | 0.7 | 0.9 | 3             | 3            | 1         | 0.44    | 1 | -
            c2     | altitude | 10   | simulator    | 0.8     | 0.7 | 0.9 | 3             | 3            | 1         | 0.44    | 1 | hard""",
    )
    assert [(r["cohort"], r["week"], r["weeks_ago"]) for r in rows] == [
        ("c1", 1, 8),
        ("c1", 9, 0),
        ("c2", 40, 0),
        ("c1", 9, 0),
        ("c2", 40, 0),
    ]
    # Held to different standards they are drawn apart; the limit for trim is one for all.
    assert [r["panel_no"] for r in rows] == [1, 1, 2, 1, 1]
    assert (rows[0]["median"], rows[0]["met_share"]) == (1.235, 0.3333)


def test_groups_are_drawn_by_week_only() -> None:
    rows = rows_of(
        "page_group_weeks",
        group_curves="""
            grouping | group_value | device_class | aspect   | axis    | step | median | q1  | q3  | student_count | standards:text
            stage    | solo        | simulator    | altitude | week    | 2    | 0.8    | 0.7 | 0.9 | 3 | easy
            stage    | solo        | simulator    | altitude | session | 2    | 0.8    | 0.7 | 0.9 | 3 | easy""",
    )
    assert [(r["grouping"], r["week"]) for r in rows] == [("stage", 2)]


def test_a_thinned_curve_ends_where_the_curve_ends() -> None:
    curve = "\n".join(f"c1 | set | {t} | {20 - t} | {1 - t / 20} | - | - | 4" for t in range(10))
    rows = rows_of(
        "page_settling_points",
        settling_curves=f"cohort | figure:text | time_s | at_risk | survival | low | high | student_count\n{curve}",
    )
    assert [r["time_s"] for r in rows] == [0, 2, 4, 6, 8, 9]
    assert rows[-1]["survival"] == 0.55
