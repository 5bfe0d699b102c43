"""Rows of single students: only under codes, only what may be shown, reasons as codes."""

# ruff: noqa: E501 (tables in text are wide)

from typing import Any

import pyarrow as pa
import pytest

from pipeline.export import ExportChoice
from pipeline.relations import build, connect
from tests.tables import build_over, rows_of, table

ROWS_ASKED = ExportChoice(level="maneuver").table()
SESSIONS = """
    session_id | student_id | session_date | started_at       | device_class | device_id | air
    a2         | A          | 2026-01-12   | 2026-01-12T09:00 | simulator    | SIM-1     | smooth
    a1         | A          | 2026-01-05   | 2026-01-05T09:00 | simulator    | SIM-1     | rough
    a3         | A          | 2026-01-05   | 2026-01-05T11:00 | aeroplane    | AC-1      | -
    b1         | B          | 2026-01-06   | 2026-01-06T09:00 | simulator    | SIM-1     | -
    c1         | C          | 2026-01-06   | 2026-01-06T09:00 | simulator    | SIM-1     | -
    d1         | D          | 2026-01-06   | 2026-01-06T09:00 | simulator    | SIM-1     | -"""
SHAREABLE = """
    student_id | cohort | standard_id | start_date | left_out_reason
    A          | winter | private     | 2026-01-05 | -
    B          | winter | private     | -          | -
    C          | winter | private     | 2026-01-05 | no consent to research
    D          | spring | private     | 2026-01-05 | -"""
TRAITS = """
    student_id | cohort | standard_id | device_class
    A          | winter | private     | simulator
    B          | -      | -           | simulator
    C          | winter | private     | simulator"""
CODES = """
    kind    | id:text | code:text
    student | A       | P1
    student | B       | P2
    student | C       | P3
    student | D       | P4
    device  | SIM-1   | D1
    device  | AC-1    | D2"""


def limits(**own: float) -> pa.Table:
    return pa.table({"name": list(own), "value": pa.array(list(own.values()), pa.float64())})


def shared(choice: pa.Table = ROWS_ASKED, least: float = 2) -> dict[str, dict[str, Any]]:
    rows = rows_of(
        "shared_rows",
        sessions=SESSIONS,
        shareable_students=SHAREABLE,
        shown_traits=TRAITS,
        pseudonyms=CODES,
        export_choice=choice,
        own_limits=limits(share_minimum_students=least),
    )
    return {row["session_id"]: row for row in rows}


def test_only_students_who_may_be_in_it_and_stand_the_k_check_have_rows() -> None:
    assert shared().keys() == {"a1", "a2", "b1"}


def test_an_export_of_cells_has_no_rows() -> None:
    assert shared(ExportChoice().table()) == {}


def test_sessions_are_numbered_by_time_and_weeks_by_the_students_start() -> None:
    found = shared(least=1)
    assert (found["a1"]["session_code"], found["a2"]["session_code"]) == ("P1-s001", "P1-s002")
    assert (found["a1"]["week_no"], found["a2"]["week_no"], found["b1"]["week_no"]) == (1, 2, None)


def test_what_is_masked_is_null() -> None:
    found = shared()
    assert (found["b1"]["cohort"], found["b1"]["standard_id"]) == (None, None)
    assert found["b1"]["is_standard_masked"]
    assert found["a1"]["cohort"] == "winter"


def test_a_device_of_too_few_students_has_no_code() -> None:
    assert shared()["a1"]["device_code"] == "D1"
    assert shared(least=3)["a1"]["device_code"] is None


@pytest.mark.parametrize(
    "name", ["pseudonyms", "shown_traits"], ids=["no code", "nothing that may be shown"]
)
def test_without_a_key_or_a_k_check_there_are_none(name: str) -> None:
    con = connect()
    build(con, [name])
    assert con.sql(f"FROM {name}").fetchall() == []


def test_everything_is_asked_for_by_default_and_as_cells() -> None:
    con = connect()
    build(con, ["export_choice"])
    assert con.sql("FROM export_choice").fetchall() == [("cohort", None, None, None, None)]


def test_every_cell_is_withheld_until_it_was_judged() -> None:
    rows = rows_of("withheld_cells", cell_members="cell_id | student_id\na | A\na | B\nb | A")
    assert sorted(row["cell_id"] for row in rows) == ["a", "b"]


ROWS = """
    session_id | student_id | student_code:text | session_code:text | cohort | standard_id | is_standard_masked | held_standard_id | device_class | device_code:text | air    | week_no | is_week_masked | last_week_no
    a1         | A          | P1                | P1-s001           | winter | private     | no                 | private          | simulator    | D1               | smooth | 1       | no             | 2
    a2         | A          | P1                | P1-s002           | winter | private     | no                 | private          | simulator    | D1               | -      | 2       | no             | 2
    b1         | B          | P2                | P2-s001           | -      | -           | yes                | instrument       | simulator    | -                | -      | -       | no             | 0"""


def test_a_student_is_one_row_with_counts() -> None:
    rows = sorted(
        rows_of("released_students", shared_rows=ROWS), key=lambda r: str(r["student_code"])
    )
    assert [
        (r["student_code"], r["cohort"], r["session_count"], r["week_count"]) for r in rows
    ] == [
        ("P1", "winter", 2, 2),
        ("P2", None, 1, 0),
    ]


WEEKS = """
    student_id | device_class | aspect   | standard_id | basis    | week_no | tolerance_ratio | is_met | session_count | maneuver_count
    A          | simulator    | altitude | private     | assigned | 1       | 0.5             | yes    | 1             | 2
    A          | simulator    | trim     | none        | assigned | 1       | 1.5             | no     | 1             | 2
    B          | simulator    | altitude | instrument  | assigned | -       | 0.7             | yes    | 1             | 2
    X          | simulator    | altitude | private     | assigned | 1       | 0.1             | yes    | 1             | 2"""


def test_weeks_stand_under_codes_and_a_masked_standard_stays_masked() -> None:
    rows = rows_of("released_student_weeks", shared_weeks=WEEKS, shared_rows=ROWS)
    found = {(r["student_code"], r["aspect"], r["week_id"]): r["standard_id"] for r in rows}
    assert found == {
        ("P1", "altitude", "01"): "private",
        ("P1", "trim", "01"): "none",
        ("P2", "altitude", "unknown"): None,
    }


def test_ratios_are_against_the_students_own_standard_masked_or_not() -> None:
    rows = rows_of("released_student_weeks", shared_weeks=WEEKS, shared_rows=ROWS)
    found = {r["student_code"]: r for r in rows if r["aspect"] == "altitude"}
    assert (found["P1"]["tolerance_ratio"], found["P1"]["is_met"]) == (0.5, True)
    assert (found["P2"]["tolerance_ratio"], found["P2"]["is_met"]) == (0.7, True)


LONG = """
    student_id | device_class | aspect   | standard_id | basis    | week_no | tolerance_ratio | is_met | session_count | maneuver_count
    A          | simulator    | altitude | private     | assigned | 2       | 0.5             | yes    | 1             | 2
    A          | simulator    | altitude | private     | assigned | 5       | 0.5             | yes    | 1             | 2
    A          | simulator    | heading  | private     | assigned | 9       | 0.5             | yes    | 1             | 2
    A          | simulator    | altitude | private     | assigned | 9       | 0.5             | yes    | 1             | 2"""


def test_weeks_later_than_enough_students_flew_keep_their_order_and_lose_their_number() -> None:
    rows = rows_of("released_student_weeks", shared_weeks=LONG, shared_rows=ROWS)
    found = {(r["aspect"], r["week_id"], r["week_no"]) for r in rows}
    assert found == {
        ("altitude", "02", 2),
        ("altitude", "late-01", None),
        ("altitude", "late-02", None),
        ("heading", "late-02", None),
    }


def reached(*last_weeks: int, least: float) -> list[tuple[int | None, bool]]:
    """What is shown of the last weeks of so many students of one cohort, one session a week."""
    names = [f"N{n}" for n in range(len(last_weeks))]
    rows = rows_of(
        "shared_rows",
        sessions="session_id | student_id | session_date | started_at | device_class | device_id | air"
        + "".join(
            f"\n{name}-{week} | {name} | 2026-0{1 + (4 + 7 * week) // 31}-{1 + (4 + 7 * week) % 31:02d} | - | simulator | - | -"
            for name, last in zip(names, last_weeks, strict=True)
            for week in range(last)
        ),
        shareable_students="student_id | cohort | standard_id | start_date | left_out_reason"
        + "".join(f"\n{name} | winter | private | 2026-01-05 | -" for name in names),
        shown_traits="student_id | cohort | standard_id | device_class"
        + "".join(f"\n{name} | winter | private | simulator" for name in names),
        pseudonyms="kind | id:text | code:text" + "".join(f"\nstudent | {n} | P{n}" for n in names),
        export_choice=ROWS_ASKED,
        own_limits=limits(share_minimum_students=least),
    )
    last = {row["student_id"]: row for row in sorted(rows, key=lambda r: str(r["session_code"]))}
    return [(last[name]["week_no"], last[name]["is_week_masked"]) for name in names]


def test_nobody_stands_out_by_having_flown_the_longest() -> None:
    assert reached(2, 2, 4, 3, least=2) == [(2, False), (2, False), (None, True), (3, False)]
    assert reached(2, 2, 4, 3, least=3) == [(2, False), (2, False), (None, True), (None, True)]
    assert reached(2, 2, least=3) == [(None, True), (None, True)]


def test_the_wide_form_of_weeks_leaves_the_unknown_null() -> None:
    rows = rows_of("released_student_weeks_wide", shared_weeks=WEEKS, shared_rows=ROWS)
    found = {r["student_code"]: r for r in rows}
    assert (found["P1"]["altitude_ratio"], found["P1"]["is_trim_met"]) == (0.5, False)
    assert (found["P2"]["heading_ratio"], found["P2"]["is_heading_met"]) == (None, None)


MANEUVERS = """
    maneuver_id | session_id | kind  | basis    | start_s | end_s | flown_by | observed_s | is_scored | not_scored_reason
    a1.1.02     | a1         | level | assigned | 100     | 200   | student  | 100        | yes       | -
    a1.1.01     | a1         | turn  | assigned | 0       | 90    | student  | 90         | no        | only level maneuvers are scored
    b1.1.01     | b1         | level | assigned | 0       | 90    | student  | 90         | no        | set aside: he was ill that day"""


def test_maneuvers_are_numbered_in_the_order_flown() -> None:
    rows = rows_of("coded_maneuvers", maneuvers=MANEUVERS, shared_rows=ROWS)
    codes = {r["maneuver_id"]: r["maneuver_code"] for r in rows}
    assert codes == {
        "a1.1.01": "P1-s001-m01",
        "a1.1.02": "P1-s001-m02",
        "b1.1.01": "P2-s001-m01",
    }


NONE = {
    "altitude_hold": "maneuver_id | altitude_bias_ft | altitude_sd_ft | altitude_rmse_ft | altitude_mae_ft | altitude_hold95_ft | altitude_drift_ft_per_min | altitude_hold_reason\na1.1.02 | 1.23456 | 2 | 3 | 4 | 5 | 6 | -",
    "heading_hold": "maneuver_id | heading_bias_deg | heading_sd_deg | heading_rmse_deg | heading_mae_deg | heading_hold95_deg | heading_drift_deg_per_min | heading_hold_reason\na1.1.02 | - | - | - | - | - | - | no heading recorded",
    "airspeed_hold": "maneuver_id | airspeed_sd_kt | airspeed_hold95_kt | airspeed_drift_kt_per_min | airspeed_hold_reason\na1.1.02 | - | - | - | data check: stuck",
    "steadiness": "maneuver_id | vertical_speed_rms_fpm | near_zero_vs | control_reversals_per_min | control_sd | trim_inputs | trim_reversals | is_vertical_speed_derived | steadiness_reason\na1.1.02 | 9 | 1 | 2 | 0.01 | - | - | no | pitch trim not logged",
    "held_control": "maneuver_id | held_control | held_force_n | is_untrimmed | held_control_reason\na1.1.02 | - | - | - | no neutral: flown level by fewer than 3 students",
    "trim_settling": "maneuver_id | settling_reason\n- | -",
    "excursions": "maneuver_id | standard_id | channel | in_tolerance | excursions\na1.1.02 | private | altitude | 0.9 | 2\na1.1.02 | instrument | altitude | 0.1 | 9\nb1.1.01 | instrument | altitude | 0.5 | 3",
    "maneuver_scores": "maneuver_id | aspect | tolerance_ratio | score_reason\na1.1.02 | altitude | 0.5 | -\nb1.1.01 | altitude | 0.7 | -\nb1.1.01 | trim | 0.2 | -",
}  # fmt: skip


@pytest.fixture(scope="module")
def released() -> dict[str, dict[str, Any]]:
    con = build_over(["released_maneuvers"], maneuvers=MANEUVERS, shared_rows=ROWS, **NONE)
    rows = con.sql("FROM released_maneuvers").pl().to_dicts()
    return {row["maneuver_code"]: row for row in rows}


def test_figures_are_rounded_and_kept_beside_their_codes(released: dict[str, Any]) -> None:
    row = released["P1-s001-m02"]
    assert row["altitude_bias_ft"] == 1.2
    assert row["altitude_hold_code"] is None
    assert row["heading_hold_code"] == "not_logged"
    assert row["airspeed_hold_code"] == "data_check"
    assert row["steadiness_code"] == "not_logged"
    assert row["held_control_code"] == "no_neutral"
    assert (row["altitude_in_tolerance"], row["altitude_excursions"]) == (0.9, 2)


def test_an_instructors_words_become_a_code(released: dict[str, Any]) -> None:
    assert released["P2-s001-m01"]["not_scored_code"] == "set_aside"
    assert "ill" not in str(released)


def test_what_would_tell_a_masked_standard_is_masked(released: dict[str, Any]) -> None:
    row = released["P2-s001-m01"]
    assert row["altitude_in_tolerance"] is None
    assert row["altitude_excursions"] is None
    assert row["altitude_ratio"] is None
    assert row["trim_ratio"] == 0.2


def test_the_long_form_holds_every_figure_once() -> None:
    con = build_over(["released_measures"], maneuvers=MANEUVERS, shared_rows=ROWS, **NONE)
    rows = con.sql("FROM released_measures").pl().to_dicts()
    found = {(r["maneuver_code"], r["measure"]): r for r in rows}
    assert len(found) == len(rows) == 3 * 28
    figure = found["P1-s001-m02", "altitude_bias_ft"]
    assert (figure["value"], figure["unit"], figure["missing_code"]) == (1.2, "ft", None)
    missing = found["P1-s001-m02", "trim_inputs"]
    assert (missing["value"], missing["missing_code"]) == (None, "not_logged")


def test_every_reason_has_a_code_and_an_unknown_one_is_other() -> None:
    reasons = NONE | {
        "held_control": "maneuver_id | held_control_reason\nm | something new about SIM-7",
    }
    con = build_over(["coded_reasons"], maneuvers=MANEUVERS, **reasons)
    codes = dict(con.sql("FROM coded_reasons").fetchall())
    assert codes["something new about SIM-7"] == "other"
    assert codes["only level maneuvers are scored"] == "not_level"
    assert set(codes.values()) <= {
        row[0] for row in con.sql("SELECT missing_code FROM missing_codes").fetchall()
    }


def test_a_code_has_one_meaning() -> None:
    con = connect()
    build(con, ["missing_codes"])
    query = "SELECT missing_code FROM missing_codes GROUP BY ALL HAVING COUNT(DISTINCT missing_meaning) > 1"
    assert con.sql(query).fetchall() == []


def test_events_carry_cluster_strata_and_why_a_time_is_missing() -> None:
    events = """
        maneuver_id | figure:text | time_s | is_event | is_upper_bound | is_in_curves | settling_reason
        a1.1.02     | settled     | 12.34567 | yes    | no             | yes          | -
        a1.1.01     | settled     | -      | -        | -              | no           | pitch control not logged
        z9.1.01     | settled     | 5      | yes      | no             | yes          | -"""
    reasons = table("reason | missing_code:text\npitch control not logged | not_logged")
    rows = rows_of(
        "released_events",
        shared_events=events,
        maneuvers=MANEUVERS,
        shared_rows=ROWS,
        coded_reasons=reasons,
    )
    found = {r["maneuver_code"]: r for r in rows}
    assert found.keys() == {"P1-s001-m01", "P1-s001-m02"}
    known, unknown = found["P1-s001-m02"], found["P1-s001-m01"]
    assert (known["time_s"], known["is_event"], known["missing_code"]) == (12.3, True, None)
    assert (known["student_code"], known["device_class"], known["cohort"]) == (
        "P1",
        "simulator",
        "winter",
    )
    assert (unknown["time_s"], unknown["missing_code"]) == (None, "not_logged")
