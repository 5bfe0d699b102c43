"""From sessions to cells: who is in, a student's week, the cells it is part of, their figures, what is shown."""

# ruff: noqa: E501 (tables in text are wide)

import math
import re
from datetime import date
from typing import Any

import pyarrow as pa
import pytest

from pipeline.export import ExportChoice
from tests.tables import frame_of, rows_of, table

STUDENTS = """
    student_id | cohort | start_date | research_consent
    A          | winter | 2026-01-05 | -
    B          | winter | 2026-01-05 | -
    C          | -      | -          | -
    D          | spring | 2026-01-12 | -"""
STANDARDS = """
    student_id | standard_id
    A          | private
    B          | private
    C          | private
    D          | instrument"""
SHAREABLE = """
    student_id | cohort | standard_id | start_date | left_out_reason
    A          | winter | private     | 2026-01-05 | -
    B          | winter | private     | 2026-01-05 | -
    C          | (none) | private     | -          | -
    D          | spring | instrument  | 2026-01-12 | no consent to research"""
SESSIONS = """
    session_id | aspect   | student_id | device_class | standard_id | basis    | session_date | is_counted | ln_ratio | maneuver_count
    a1         | altitude | A          | simulator    | private     | assigned | 2026-01-05   | yes        | -0.2     | 2
    a2         | altitude | A          | simulator    | private     | assigned | 2026-01-11   | yes        | 0.4      | 3
    a3         | altitude | A          | simulator    | private     | assigned | 2026-01-12   | yes        | 0        | 2
    a0         | altitude | A          | simulator    | private     | assigned | 2026-01-04   | yes        | 0.7      | 2
    a4         | altitude | A          | simulator    | private     | assigned | 2026-01-13   | no         | 9        | 2
    a1         | trim     | A          | simulator    | -           | assigned | 2026-01-05   | yes        | -0.5     | 2
    b1         | altitude | B          | aeroplane    | private     | assigned | 2026-01-06   | yes        | 0.1      | 2
    c1         | altitude | C          | simulator    | private     | assigned | 2026-01-06   | yes        | 0.1      | 2
    d1         | altitude | D          | simulator    | instrument  | assigned | 2026-01-13   | yes        | 0.1      | 2"""
EVERYTHING = ExportChoice().table()
OWN_LIMITS = "name | value"


def limits(**own: float) -> pa.Table:
    return pa.table({"name": list(own), "value": pa.array(list(own.values()), pa.float64())})


def left_out(choice: ExportChoice, consent: str = STUDENTS) -> dict[str, str | None]:
    rows = rows_of(
        "shareable_students",
        students=consent,
        student_standards=STANDARDS,
        export_choice=choice.table(),
    )
    return {row["student_id"]: row["left_out_reason"] for row in rows}


def test_everybody_may_be_in_it_where_nobody_was_asked() -> None:
    assert set(left_out(ExportChoice(level="maneuver")).values()) == {None}


def test_who_said_no_is_in_nothing_and_rows_need_a_yes() -> None:
    asked = """
        student_id | cohort | start_date | research_consent
        A          | winter | 2026-01-05 | yes
        B          | winter | 2026-01-05 | no
        C          | -      | -          | -
        D          | spring | 2026-01-12 | yes"""
    no = "no consent to research"
    assert left_out(ExportChoice(), asked) == {"A": None, "B": no, "C": None, "D": None}
    rows = left_out(ExportChoice(level="student"), asked)
    assert rows == {"A": None, "B": no, "C": "no answer about research", "D": None}


def test_a_cohort_or_a_standard_can_be_asked_for() -> None:
    other = "not in the cohort asked for"
    assert left_out(ExportChoice(cohort="winter")) == {"A": None, "B": None, "C": other, "D": other}
    held = left_out(ExportChoice(standard_id="instrument"))
    assert held["D"] is None
    assert held["A"] == "not held to the standard asked for"


def shared(choice: pa.Table = EVERYTHING) -> list[dict[str, Any]]:
    return rows_of(
        "shared_sessions",
        session_figures=SESSIONS,
        shareable_students=SHAREABLE,
        export_choice=choice,
    )


def test_sessions_that_count_get_the_week_since_the_students_own_start() -> None:
    weeks = {(r["session_id"], r["aspect"]): r["week_no"] for r in shared()}
    assert weeks == {
        ("a1", "altitude"): 1,
        ("a2", "altitude"): 1,
        ("a3", "altitude"): 2,
        ("a0", "altitude"): None,
        ("a1", "trim"): 1,
        ("b1", "altitude"): 1,
        ("c1", "altitude"): None,
    }
    assert {r["standard_id"] for r in shared() if r["aspect"] == "trim"} == {"none"}


def test_both_days_asked_for_are_included() -> None:
    choice = ExportChoice(first_date=date(2026, 1, 6), last_date=date(2026, 1, 11)).table()
    assert {r["session_id"] for r in shared(choice)} == {"a2", "b1", "c1"}


def weeks() -> list[dict[str, Any]]:
    return rows_of(
        "shared_weeks",
        session_figures=SESSIONS,
        shareable_students=SHAREABLE,
        export_choice=EVERYTHING,
    )


def test_a_student_counts_once_a_week_by_the_geometric_mean() -> None:
    [row] = [
        r for r in weeks() if (r["student_id"], r["aspect"], r["week_no"]) == ("A", "altitude", 1)
    ]
    assert row["tolerance_ratio"] == pytest.approx(math.exp(0.1), abs=1e-6)
    assert (row["is_met"], row["session_count"], row["maneuver_count"]) == (False, 2, 5)


def test_exactly_on_the_standard_meets_it() -> None:
    [row] = [r for r in weeks() if (r["student_id"], r["week_no"]) == ("A", 2)]
    assert row["tolerance_ratio"] == 1
    assert row["is_met"]


def test_another_figure_has_another_digest() -> None:
    changed = SESSIONS.replace("| 0.4 ", "| 0.5 ")
    other = rows_of(
        "shared_weeks",
        session_figures=changed,
        shareable_students=SHAREABLE,
        export_choice=EVERYTHING,
    )
    one, two = ({r["contribution_id"] for r in rows} for rows in (weeks(), other))
    assert len(one - two) == len(two - one) == 1


def test_another_tolerance_changes_what_a_part_tells_and_not_what_it_rests_on() -> None:
    wider = re.sub(r"(yes +\| )(-?[0-9.]+)", lambda m: f"{m[1]}{float(m[2]) + 0.25}", SESSIONS)
    other = rows_of(
        "shared_weeks",
        session_figures=wider,
        shareable_students=SHAREABLE,
        export_choice=EVERYTHING,
    )
    one, two = ([r["contribution_id"] for r in rows] for rows in (weeks(), other))
    assert not set(one) & set(two)
    assert sorted(part[:16] for part in one) == sorted(part[:16] for part in two)
    assert len({part[:16] for part in one}) == len(one)


WEEKS = """
    aspect   | device_class | standard_id | basis    | student_id | cohort | week_no | ln_ratio | is_met | contribution_id
    altitude | simulator    | private     | assigned | A          | winter | 1       | -1       | yes    | x1
    altitude | simulator    | private     | assigned | B          | winter | 1       | 0        | yes    | x2
    altitude | simulator    | private     | assigned | C          | winter | 1       | 1        | no     | x3
    altitude | simulator    | private     | assigned | C          | winter | 2       | 2        | no     | x4
    altitude | simulator    | private     | assigned | D          | 50%/a  | -       | 3        | no     | x5"""


def test_a_week_is_part_of_its_stratum_its_cohort_and_its_own_cell() -> None:
    rows = rows_of("week_members", shared_weeks=WEEKS)
    cells = {(r["cell_id"], r["parent_cell_id"]) for r in rows if r["student_id"] == "A"}
    stratum = "altitude/simulator/private/assigned"
    assert cells == {
        (stratum, None),
        (f"{stratum}/winter", stratum),
        (f"{stratum}/winter/w01", f"{stratum}/winter"),
    }


def test_a_week_without_a_number_is_in_no_weeks_cell_and_odd_names_stay_apart() -> None:
    rows = rows_of("week_members", shared_weeks=WEEKS)
    cells = {r["cell_id"] for r in rows if r["student_id"] == "D"}
    assert cells == {
        "altitude/simulator/private/assigned",
        "altitude/simulator/private/assigned/50%25%2Fa",
    }


def cells(name: str, withheld: str = "", **own: float) -> dict[str, dict[str, Any]]:
    rows = rows_of(
        name,
        shared_weeks=WEEKS,
        own_limits=limits(**own),
        withheld_cells=table(f"cell_id\n{withheld}" if withheld else "cell_id\nnone"),
    )
    return {row["cell_id"].removeprefix("altitude/simulator/private/assigned"): row for row in rows}


def test_figures_of_a_cell_by_hand() -> None:
    found = cells("share_cells")
    row = found["/winter/w01"]
    assert (row["student_count"], row["median"]) == (3, 1)
    assert (row["q1"], row["q3"]) == (round(math.exp(-0.5), 3), round(math.exp(0.5), 3))
    assert (row["ln_mean"], row["ln_sd"], row["met_share"]) == (0, 1, 0.6667)
    assert found["/winter"]["student_count"] == 3


def test_the_interval_of_a_share_is_wilsons() -> None:
    """8 of 10: 0.490 to 0.943 (Wilson 1927; the value as in statsmodels' proportion_confint)."""
    many = (
        "aspect | device_class | standard_id | basis | student_id | cohort | week_no | ln_ratio | is_met | contribution_id"
        + "".join(
            f"\naltitude | simulator | private | assigned | S{n} | c | 1 | {-1 if n < 8 else 1} | {'yes' if n < 8 else 'no'} | x{n}"
            for n in range(10)
        )
    )
    frame = frame_of("share_cells", shared_weeks=many, own_limits=limits())
    assert frame["met_share"].unique().to_list() == [0.8]
    assert frame["met_low"].unique().to_list() == [pytest.approx(0.4901, abs=2e-4)]
    assert frame["met_high"].unique().to_list() == [pytest.approx(0.9433, abs=2e-4)]


def test_one_student_alone_has_no_spread() -> None:
    assert cells("share_cells")["/winter/w02"]["ln_sd"] is None


def test_every_cohort_and_week_is_listed_whether_anybody_flew_or_not() -> None:
    found = cells("cell_grid")
    assert found.keys() == {
        "",
        "/winter",
        "/winter/w01",
        "/winter/w02",
        "/50%25%2Fa",
        "/50%25%2Fa/w01",
        "/50%25%2Fa/w02",
    }


def test_weeks_are_listed_up_to_the_last_that_may_be_shown() -> None:
    found = cells("cell_grid", "altitude/simulator/private/assigned/winter/w02")
    assert "/winter/w01" in found
    assert "/winter/w02" not in found


def test_a_withheld_cell_and_an_empty_one_look_the_same() -> None:
    found = cells("released_cells", "altitude/simulator/private/assigned/winter/w01")
    withheld, empty = found["/winter/w01"], found["/50%25%2Fa/w01"]
    for name in ("student_count", "median", "q1", "q3", "ln_mean", "met_share", "met_share_bound"):
        assert withheld[name] is None
        assert empty[name] is None
    assert withheld["is_withheld"]
    assert empty["is_withheld"]
    assert not found["/winter"]["is_withheld"]


def test_a_share_of_nearly_all_is_told_as_a_bound() -> None:
    found = cells("released_cells")
    row = found["/winter/w02"]
    assert (row["met_share"], row["met_low"], row["met_share_bound"]) == (None, None, "0.2 or less")
    assert found["/winter/w01"]["met_share"] == 0.6667
    on_the_bound = cells("released_cells", share_bound=0.6667)["/winter/w01"]
    assert (on_the_bound["met_share"], on_the_bound["met_share_bound"]) == (None, "0.67 or more")


@pytest.mark.parametrize(
    ("students", "met", "told"),
    [
        (10, 7, "0.7"),
        (10, 8, "0.8 or more"),
        (10, 2, "0.2 or less"),
        (20, 17, "0.85"),
        (20, 18, "0.9 or more"),
        (40, 37, "0.925"),
        (40, 38, "0.95 or more"),
        (100, 95, "0.95 or more"),
    ],
)
def test_one_or_two_students_on_the_other_side_are_not_told(
    students: int, met: int, told: str
) -> None:
    """The bound is wider in small groups; 0.95, the setting, is the narrowest."""
    many = WEEKS.splitlines()[1] + "".join(
        f"\naltitude | simulator | private | assigned | S{n} | c | 1 | {-1 if n < met else 1} | {'yes' if n < met else 'no'} | x{n}"
        for n in range(students)
    )
    rows = rows_of(
        "released_cells",
        shared_weeks=many,
        own_limits=limits(),
        withheld_cells=table("cell_id\nnone"),
    )
    for row in rows:
        share = row["met_share_bound"] or f"{row['met_share']:g}"
        assert share == told


def test_nothing_is_released_before_it_was_judged() -> None:
    rows = rows_of(
        "released_cells",
        shared_weeks=WEEKS,
        own_limits=limits(),
        event_members=table(
            "cell_id | parent_cell_id | student_id | contribution_id\n- | - | - | -"
        ),
    )
    assert all(row["is_withheld"] for row in rows)


def test_the_wide_form_holds_the_same_cells_side_by_side() -> None:
    both = (
        WEEKS
        + "\n    trim     | simulator    | none        | assigned | A          | winter | 1       | -1       | yes    | t1"
    )
    rows = rows_of(
        "released_cells_wide",
        shared_weeks=both,
        own_limits=limits(),
        withheld_cells=table("cell_id\naltitude/simulator/private/assigned/winter/w02"),
    )
    found = {row["row_id"]: row for row in rows}
    week = found["simulator/private/assigned/winter/w01"]
    assert (week["altitude_students"], week["altitude_median"], week["trim_students"]) == (3, 1, 1)
    assert week["heading_students"] is None


def test_a_cell_has_members_of_both_kinds() -> None:
    rows = rows_of(
        "cell_members",
        week_members="cell_id | parent_cell_id | student_id | contribution_id\na | - | A | x",
        event_members="cell_id | parent_cell_id | student_id | contribution_id\nb | - | A | y",
    )
    assert [(r["cell_id"], r["contribution_id"]) for r in rows] == [("a", "x"), ("b", "y")]


def test_what_was_found_in_the_log_is_never_pooled_with_what_was_asked_for() -> None:
    found = SESSIONS.replace(
        "a2         | altitude | A          | simulator    | private     | assigned",
        "a2         | altitude | A          | simulator    | private     | inferred",
    )
    inputs: dict[str, Any] = {
        "session_figures": found,
        "shareable_students": SHAREABLE,
        "export_choice": EVERYTHING,
    }
    rows = [r for r in rows_of("shared_weeks", **inputs) if r["student_id"] == "A"]
    first = {r["basis"]: r for r in rows if (r["aspect"], r["week_no"]) == ("altitude", 1)}
    assert {basis: row["session_count"] for basis, row in first.items()} == {
        "assigned": 1,
        "inferred": 1,
    }
    strata = {r["cell_id"] for r in rows_of("week_members", **inputs) if r["student_id"] == "A"}
    assert {"altitude/simulator/private/assigned", "altitude/simulator/private/inferred"} <= strata
