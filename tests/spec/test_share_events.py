"""Level-offs and power changes for research: as rows with censoring, and as curves of cells."""

# ruff: noqa: E501 (tables in text are wide)

from typing import Any

import pyarrow as pa
import pytest

from pipeline.export import ExportChoice
from tests.tables import rows_of, table

SHAREABLE = """
    student_id | cohort | left_out_reason
    A          | winter | -
    B          | winter | no consent to research"""
EVENTS = """
    maneuver_id | trim_settle_s | is_settled | followed_s | trim_set_s | is_set | set_followed_s | is_upper_bound | is_set_upper_bound | settling_reason
    m1          | 12            | yes        | 100        | -          | no     | 90             | no             | no                 | -
    m2          | -             | -          | -          | -          | -      | -              | -              | -                  | pitch control not logged
    m3          | 30            | yes        | 100        | 30         | yes    | 90             | yes            | no                 | -"""
MANEUVERS = """
    maneuver_id | session_id | basis
    m1          | s1         | assigned
    m2          | s1         | assigned
    m3          | s2         | inferred"""
SESSIONS = """
    session_id | student_id | session_date | device_class
    s1         | A          | 2026-01-06   | simulator
    s2         | B          | 2026-01-06   | simulator"""
FOLLOWED = """
    maneuver_id | figure:text | student_id | device_class | session_date | time_s | is_settled
    m1          | settled     | A          | simulator    | 2026-01-06   | 12     | yes
    m1          | settled or set | A       | simulator    | 2026-01-06   | 12     | yes
    m3          | settled     | B          | simulator    | 2026-01-06   | 30     | yes"""


def test_censored_and_unknown_events_keep_their_rows() -> None:
    rows = rows_of(
        "shared_events",
        trim_settling=EVENTS,
        maneuvers=MANEUVERS,
        sessions=SESSIONS,
        shareable_students=SHAREABLE,
        export_choice=ExportChoice().table(),
        followed_events=FOLLOWED,
    )
    found = {(r["maneuver_id"], r["figure"]): r for r in rows}
    assert found.keys() == {(m, f) for m in ("m1", "m2") for f in ("settled", "set")}
    settled, censored = found["m1", "settled"], found["m1", "set"]
    assert (settled["time_s"], settled["is_event"], settled["is_in_curves"]) == (12, True, True)
    assert (censored["time_s"], censored["is_event"], censored["is_in_curves"]) == (
        90,
        False,
        False,
    )
    unknown = found["m2", "settled"]
    assert (unknown["time_s"], unknown["is_event"]) == (None, None)
    assert unknown["settling_reason"] == "pitch control not logged"


def test_events_that_count_are_part_of_their_class_and_their_cohort() -> None:
    rows = rows_of(
        "event_members",
        followed_events=FOLLOWED,
        maneuvers=MANEUVERS,
        shareable_students=SHAREABLE,
        export_choice=ExportChoice().table(),
    )
    assert {(r["cell_id"], r["parent_cell_id"], r["student_id"]) for r in rows} == {
        ("settled/simulator/assigned", None, "A"),
        ("settled/simulator/assigned/winter", "settled/simulator/assigned", "A"),
    }


# Remission times of 21 patients on 6-MP (Freireich and others 1963), the textbook case of Kaplan-Meier: 9 events, 12 censored.
TIMES = [6, 6, 6, 7, 10, 13, 16, 22, 23]
CENSORED = [6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35]


def members(cell: str = "settled/simulator", students: int = 21) -> pa.Table:
    times = [(t, True) for t in TIMES] + [(t, False) for t in CENSORED]
    rows = [
        {
            "cell_id": cell,
            "cell_level": "stratum",
            "figure": "settled",
            "device_class": "simulator",
            "basis": "assigned",
            "cohort": None,
            "student_id": f"S{n % students}",
            "contribution_id": f"x{n}",
            "time_s": float(time),
            "is_event": is_event,
        }
        for n, (time, is_event) in enumerate(times)
    ]
    schema = pa.schema(
        [(name, pa.string()) for name in list(rows[0])[:8]]
        + [("time_s", pa.float64()), ("is_event", pa.bool_())]
    )
    return pa.Table.from_pylist(rows, schema=schema)


def limits(**own: float) -> pa.Table:
    return pa.table({"name": list(own), "value": pa.array(list(own.values()), pa.float64())})


def curve(**own: float) -> dict[float, dict[str, Any]]:
    rows = rows_of("share_curves", event_members=members(), own_limits=limits(**own))
    return {row["after_s"]: row for row in rows}


def test_the_share_not_yet_settled_is_kaplan_and_meiers() -> None:
    """Textbook values: S(6) 0.857, S(7) 0.807, S(10) 0.753, S(13) 0.690, S(16) 0.627, S(22) 0.538, S(23) 0.448."""
    found = curve(share_curve_step_s=1, share_curve_end_s=35)
    expected = {
        0: 1,
        5: 1,
        6: 0.857,
        7: 0.807,
        10: 0.753,
        13: 0.690,
        16: 0.627,
        22: 0.538,
        23: 0.448,
    }
    for time, survival in expected.items():
        assert found[time]["survival"] == pytest.approx(survival, abs=6e-4)
    assert found[35]["survival"] == pytest.approx(0.448, abs=6e-4)
    assert found[20]["students_at_risk"] == 8


def released(**inputs: str | pa.Table) -> dict[float, dict[str, Any]]:
    given: dict[str, str | pa.Table] = {
        "event_members": members(),
        "own_limits": limits(share_curve_step_s=10, share_curve_end_s=30),
        "withheld_cells": table("cell_id\nother"),
    } | inputs
    rows = rows_of("released_curves", **given)
    return {row["after_s"]: row for row in rows}


def test_a_curve_ends_where_fewer_than_ten_students_are_followed() -> None:
    found = released()
    assert [found[t]["is_withheld"] for t in (0, 10, 20, 30)] == [False, False, True, True]
    assert found[10]["survival"] == pytest.approx(0.753, abs=6e-4)
    assert found[20]["survival"] is None
    assert found[20]["student_count"] == 21


def test_nearly_all_is_told_as_a_bound() -> None:
    start = released()[0]
    assert (start["survival"], start["survival_bound"]) == (None, "0.9 or more")


def test_a_withheld_cell_is_listed_without_figures() -> None:
    found = released(withheld_cells=table("cell_id\nsettled/simulator"))
    for row in found.values():
        assert row["is_withheld"]
        assert row["student_count"] is None
        assert row["survival"] is None
        assert row["survival_bound"] is None
