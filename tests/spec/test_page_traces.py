"""page_trace_*, page_maneuvers: which maneuvers a student's page draws, and what it draws of them."""

# ruff: noqa: E501 (tables in text are wide)

from __future__ import annotations

import pytest

from tests.tables import build_over, rows_of

TRACED = """
    student_id | maneuver_id | session_id | start_s | end_s | target_altitude_ft | target_heading_deg | altitude_tolerance_ft | heading_tolerance_deg | pitch_neutral | settle_s | set_s
    A          | m1          | s1         | 100     | 160   | 3000               | 90                 | 100                   | 10                    | 0.02          | -        | -
    A          | m2          | s1         | 200     | 260   | -                  | -                  | 100                   | -                     | -             | 12       | 30
    B          | m3          | s2         | 0       | 60    | 3000               | 90                 | 200                   | 20                    | 0.00          | 30       | 30"""


def traced(
    channel: str, values: list[tuple[float, float, bool]]
) -> list[tuple[float, float | None]]:
    """The drawn points of one channel of m1, from (second, value, is after a gap)."""
    observed = "maneuver_id | channel | t_s | value | step_s\n" + "\n".join(
        f"m1 | {channel} | {t} | {v} | {'-' if after_gap else 1}" for t, v, after_gap in values
    )
    rows = rows_of(
        "page_trace_points",
        observations=observed,
        page_trace_maneuvers=TRACED,
        sessions="session_id | revision\ns1 | 1",
        stored_samples="session_id | revision | t_ms | pitch_trim\ns9 | 1 | 0 | 0",
    )
    return [(row["t_s"], row["value"]) for row in rows]


def test_a_thinned_trace_keeps_its_extremes_and_its_ends() -> None:
    """600 values in 60 s, thinned to 45 stretches: the lowest and the highest of each are kept."""
    values = [(100 + i / 10, float(i % 10), i == 0) for i in range(600)]
    values[304] = (130.4, 999.0, False)
    values[437] = (143.7, -999.0, False)
    points = traced("altitude", values)
    assert len(points) <= 2 * 45 + 2
    assert (30.4, 999.0) in points
    assert (43.7, -999.0) in points
    assert points[0] == (0.0, 0.0)
    assert points[-1] == (59.9, 9.0)


def test_a_gap_in_a_trace_is_a_point_without_a_value_between_its_edges() -> None:
    points = traced("altitude", [(100, 5, True), (101, 6, False), (111, 7, True), (112, 8, False)])
    assert points == [(0.0, 5.0), (1.0, 6.0), (6.0, None), (11.0, 7.0), (12.0, 8.0)]


def test_the_control_is_drawn_from_where_the_device_rests() -> None:
    assert traced("pitch_control", [(100, 0.07, True)]) == [(0.0, 0.05)]


def test_other_channels_are_not_drawn() -> None:
    assert traced("airspeed", [(100, 90, True)]) == []


def test_the_trim_is_drawn_within_the_maneuver_only() -> None:
    rows = rows_of(
        "page_trace_points",
        observations="maneuver_id | channel | t_s | value | step_s",
        page_trace_maneuvers=TRACED,
        sessions="session_id | revision\ns1 | 2",
        stored_samples="""
            session_id | revision | t_ms   | pitch_trim
            s1         | 2        | 99999  | 0.1
            s1         | 2        | 100000 | 0.2
            s1         | 1        | 101000 | 0.9
            s1         | 2        | 160000 | 0.3
            s1         | 2        | 160001 | 0.4""",
    )
    assert [(r["maneuver_id"], r["channel"], r["t_s"], r["value"]) for r in rows] == [
        ("m1", "pitch_trim", 0.0, 0.2),
        ("m1", "pitch_trim", 60.0, 0.3),
    ]


def test_lines_are_drawn_at_the_target_and_at_both_edges_of_the_tolerance() -> None:
    rows = rows_of("page_trace_edges", page_trace_maneuvers=TRACED)
    drawn = {
        channel: sorted(
            r["value"] for r in rows if (r["maneuver_id"], r["channel"]) == ("m1", channel)
        )
        for channel in ("altitude", "heading", "vertical_speed", "pitch_control")
    }
    assert drawn == {
        "altitude": [-100, 0, 100],
        "heading": [-10, 0, 10],
        "vertical_speed": [-100, 0, 100],
        "pitch_control": [-0.05, 0, 0.05],
    }


def test_without_a_target_or_a_neutral_there_is_no_line_to_be_held_to() -> None:
    rows = rows_of("page_trace_edges", page_trace_maneuvers=TRACED)
    assert {r["channel"] for r in rows if r["maneuver_id"] == "m2"} == {"vertical_speed"}


def test_settling_is_marked_once_where_both_moments_are_one() -> None:
    rows = rows_of("page_trace_moments", page_trace_maneuvers=TRACED)
    assert [(r["maneuver_id"], r["moment"], r["t_s"]) for r in rows] == [
        ("m2", "settled", 12),
        ("m2", "trimmed and left alone", 30),
        ("m3", "trimmed and left alone", 30),
    ]


def test_stretches_outside_the_students_own_tolerance_are_shaded() -> None:
    rows = rows_of(
        "page_trace_spans",
        page_trace_maneuvers=TRACED,
        excursion_runs="""
            maneuver_id | channel  | edge | start_s | end_s | is_start_cut | is_end_cut
            m1          | altitude | 100  | 110.04  | 120   | no           | no
            m1          | altitude | 200  | 112     | 115   | no           | no
            m1          | altitude | -100 | 150     | 160   | no           | yes
            m1          | heading  | -10  | 101     | 103   | no           | no
            m3          | altitude | 100  | 1       | 2     | no           | no""",
    )
    assert [(r["channel"], r["side"], r["start_s"], r["end_s"], r["is_cut"]) for r in rows] == [
        ("altitude", "above", 10.0, 20.0, False),
        ("altitude", "below", 50.0, 60.0, True),
        ("heading", "left", 1.0, 3.0, False),
    ]


MANEUVERS = """
    maneuver_id | session_id | kind      | basis    | start_s | end_s | target_altitude_ft | target_heading_deg | is_scored | not_scored_reason
    older       | s0         | level     | assigned | 0       | 90    | 3000               | 90                 | yes       | -
    oldest      | s0         | level     | assigned | 100     | 190   | 3000               | 90                 | yes       | -
    old         | s1         | level     | assigned | 0       | 90    | 3000               | 90                 | yes       | -
    {many}
    turned      | s2         | turn      | assigned | 500     | 560   | 3000               | 90                 | no        | only level maneuvers are scored
    later       | s9         | level     | assigned | 0       | 90    | 3000               | 90                 | yes       | -
    gone        | s3         | level     | assigned | 0       | 90    | 3000               | 90                 | yes       | -"""


def test_the_latest_maneuvers_in_level_flight_and_those_that_findings_rest_on_are_drawn() -> None:
    many = "\n".join(
        f"n{i} | s2 | {'level' if i % 2 else 'level_off'} | assigned | {i * 60} | {i * 60 + 60} | 3000 | 90 | yes | -"
        for i in range(5)
    )
    rows = rows_of(
        "page_trace_maneuvers",
        maneuvers=MANEUVERS.format(many=many),
        sessions="""
            session_id | student_id | session_date | started_at          | device_id
            s0         | A          | 2026-02-01   | 2026-02-01T09:00:00 | D1
            s1         | A          | 2026-03-01   | 2026-03-01T09:00:00 | D1
            s2         | A          | 2026-03-02   | 2026-03-02T09:00:00 | D1
            s3         | L          | 2026-03-02   | 2026-03-02T09:00:00 | D1
            s9         | A          | 2026-03-09   | 2026-03-09T09:00:00 | D1""",
        students="student_id | left_on\nA | -\nL | 2026-03-01",
        student_standards="student_id | standard_id\nA | easy\nL | easy",
        standards="standard_id | channel | tolerance\neasy | altitude | 200\neasy | heading | 20",
        device_neutrals="device_id | session_date | pitch_neutral\nD1 | 2026-03-02 | 0.04",
        trim_settling="maneuver_id | trim_settle_s | trim_set_s\nn0 | 20 | 31",
        page_evidence="student_id | maneuver_id | session_date\nA | older | 2026-02-01\nA | n1 | 2026-03-02",
        as_of="as_of_date\n2026-03-03",
    )
    assert [r["maneuver_id"] for r in rows] == ["n0", "n1", "n2", "n3", "n4", "old", "older"]
    assert [r["is_latest"] for r in rows] == [True] * 6 + [False]
    first, last = rows[0], rows[5]
    assert (first["altitude_tolerance_ft"], first["heading_tolerance_deg"]) == (200, 20)
    assert (first["pitch_neutral"], first["settle_s"], first["set_s"]) == (0.04, 20, 31)
    assert last["pitch_neutral"] is None


def test_a_maneuver_s_figures_stand_beside_it_whether_or_not_they_are_known() -> None:
    empty = {
        "altitude_hold": "maneuver_id | altitude_hold95_ft | altitude_bias_ft | altitude_hold_reason",
        "heading_hold": "maneuver_id | heading_hold95_deg | heading_bias_deg | heading_hold_reason",
        "steadiness": "maneuver_id | vertical_speed_rms_fpm | control_reversals_per_min | trim_inputs",
        "technique": "maneuver_id | trims_right | is_chasing | is_control_first",
        "held_control": "maneuver_id | held_control | is_untrimmed | held_control_reason",
        "trim_settling": "maneuver_id | trim_settle_s | is_settled | trim_set_s | is_set | followed_s | settling_reason",
    }
    told = {**empty, "altitude_hold": f"{empty['altitude_hold']}\nm1 | 140 | -20 | -"}
    con = build_over(
        ["page_maneuvers"],
        **told,
        page_trace_maneuvers="""
            student_id | maneuver_id | session_id | session_date | device_id | kind  | basis    | start_s | end_s | target_altitude_ft | target_heading_deg | is_scored | not_scored_reason | place | is_latest | standard_id | altitude_tolerance_ft | heading_tolerance_deg | pitch_neutral
            A          | m2          | s1         | 2026-03-01   | D1        | level | assigned | 0       | 60    | 3000               | 90                 | yes       | -                 | 2     | yes       | easy        | 200                   | 20                    | -
            A          | m1          | s1         | 2026-03-01   | D1        | level | assigned | 0       | 60    | 3000               | 90                 | yes       | -                 | 1     | yes       | easy        | 200                   | 20                    | -""",
        tolerance_excursions="""
            maneuver_id | channel  | tolerance | in_tolerance | excursions | longest_out_s
            m1          | altitude | 200       | 0.9          | 2          | 5
            m1          | altitude | 100       | 0.5          | 4          | 9""",
    )
    rows = con.sql(
        "SELECT maneuver_id, altitude_hold95_ft, altitude_in_tolerance, altitude_excursions, heading_hold95_deg FROM page_maneuvers"
    ).fetchall()
    assert rows == [("m1", 140.0, pytest.approx(0.9), 2, None), ("m2", None, None, None, None)]
