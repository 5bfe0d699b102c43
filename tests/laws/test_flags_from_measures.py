"""Floors 6 to 8 from end to end: empty stores, recomputed sentences, arrivals in any order."""

import math
import re
from datetime import date
from typing import Any

import duckdb
import numpy as np
import pyarrow as pa
import pytest

from pipeline.relations import needed_for, relation_files
from tests.flying import COLUMNS, fly, no_flights, tables
from tests.tables import build_over, column_type


def from_measures(name: str) -> bool:
    """Whether a relation can be built from the tables of `tests.flying` alone."""
    return all(r.floor == 0 or r.floor > 5 for r in needed_for([name], COLUMNS))


TOLD = [r.name for r in relation_files().values() if r.floor in (6, 7, 8) and from_measures(r.name)]
TRUTHS = {
    "weak": 1.8, "wide": 1.4, "edge": 1.0, "fair": 0.8, "good": 0.6, "best": 0.4, "more": 0.7,
    "last": 0.5, "late": 0.9,
}  # fmt: skip


@pytest.fixture(scope="module")
def con() -> duckdb.DuckDBPyConnection:
    return build_over(TOLD, **tables(fly(TRUTHS)))


def rows(con: duckdb.DuckDBPyConnection, query: str) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = con.sql(query).pl().to_dicts()
    return found


def test_a_store_without_a_session_builds_every_relation_and_tells_nothing() -> None:
    empty = no_flights()
    empty["as_of"] = pa.table({"as_of_date": pa.array([None], column_type("as_of_date"))})
    con = build_over(TOLD, **empty)
    counts = {name: len(rows(con, f"FROM {name}")) for name in TOLD}
    assert {name for name, count in counts.items() if count} == {"exercises", "kendall_tails"}


def test_students_who_never_flew_are_insufficient_data_and_no_error() -> None:
    given = no_flights()
    school = fly({"A": 1.0}, sessions=1)
    given |= {name: tables(school)[name] for name in ("students", "as_of")}
    con = build_over(TOLD, **given)
    assert {r["state"] for r in rows(con, "FROM student_states")} == {"insufficient data"}
    assert len(rows(con, "FROM insufficient_data")) == 3


@pytest.mark.parametrize("relation", TOLD)
def test_the_grain_that_a_header_names_is_unique(
    con: duckdb.DuckDBPyConnection, relation: str
) -> None:
    grain = ", ".join(relation_files()[relation].grain)
    assert rows(con, f"SELECT {grain} FROM {relation} GROUP BY {grain} HAVING COUNT(*) > 1") == []


def test_those_outside_are_flagged_and_those_inside_are_not(con: duckdb.DuckDBPyConnection) -> None:
    flagged = {(r["student_id"], r["aspect"]) for r in rows(con, "FROM flags")}
    assert {("weak", "altitude"), ("wide", "altitude")} <= flagged
    assert flagged <= {(s, "altitude") for s in ("weak", "wide", "edge")}


def test_every_number_of_a_reason_is_recomputed_from_the_measures(
    con: duckdb.DuckDBPyConnection,
) -> None:
    pattern = re.compile(
        r"Altitude outside ±200 ft in (\d) of the last (\d) simulator sessions; now held to about "
        r"±(\d+) ft, ([\d.]+) times the tolerance \(80 % interval ([\d.]+) to ([\d.]+)\), "
        r"(over 99|\d+) % sure that it is outside; (.+)\."
    )
    for flag in rows(con, "FROM flags"):
        told = pattern.fullmatch(flag["reason"])
        assert told is not None, flag["reason"]
        holds = _last_four(con, flag["student_id"])
        figures = [np.mean([math.log(h / 200) for h in session]) for session in holds]
        assert [int(told[1]), int(told[2])] == [sum(f > 0 for f in figures), 4]
        assert float(told[3]) == pytest.approx(flag["level_ratio"] * 200, abs=0.5)
        printed = [float(told[i]) for i in (4, 5, 6)]
        assert printed == pytest.approx(
            [flag["level_ratio"], flag["level_low"], flag["level_high"]], abs=0.051
        )
        chance = 100 * min(flag["confidence"], 0.995)
        assert (
            told[7] == "over 99"
            if chance > 99
            else float(told[7]) == pytest.approx(chance, abs=0.5)
        )
        assert sorted(flag["evidence"]) == _evidence(con, flag["student_id"])


def _last_four(con: duckdb.DuckDBPyConnection, student: str) -> list[list[float]]:
    found = rows(
        con,
        "SELECT s.session_id, LIST(a.altitude_hold95_ft) AS holds FROM sessions AS s "
        "INNER JOIN maneuvers AS m ON s.session_id = m.session_id "
        "INNER JOIN altitude_hold AS a ON m.maneuver_id = a.maneuver_id "
        f"WHERE s.student_id = '{student}' GROUP BY s.session_id ORDER BY s.session_id",
    )
    return [r["holds"] for r in found[-4:]]


def _evidence(con: duckdb.DuckDBPyConnection, student: str) -> list[str]:
    found = rows(
        con,
        "SELECT m.maneuver_id FROM maneuvers AS m INNER JOIN sessions AS s ON m.session_id = s.session_id "
        f"WHERE s.student_id = '{student}' AND m.kind = 'level' ORDER BY m.maneuver_id",
    )
    return [r["maneuver_id"] for r in found][-16:]


def test_rows_that_arrive_in_another_order_give_the_same_to_the_bit(
    con: duckdb.DuckDBPyConnection,
) -> None:
    rng = np.random.default_rng(4)
    mixed = {n: [given[i] for i in rng.permutation(len(given))] for n, given in fly(TRUTHS).items()}
    other = build_over(TOLD, **tables(mixed))
    for name in TOLD:
        query = f"SELECT * FROM {name} ORDER BY ALL"
        assert con.sql(query).pl().equals(other.sql(query).pl()), name


def test_an_earlier_date_tells_what_was_known_then() -> None:
    school = fly(TRUTHS)
    then = date(2026, 1, 20)
    names = ["flags", "student_levels", "student_trends", "cohort_trends", "settling_curves"]
    asked = build_over(names, **tables(school | {"as_of": [{"as_of_date": then}]}))
    known = {row["session_id"] for row in school["sessions"] if row["session_date"] <= then}
    cut: dict[str, list[dict[str, Any]]] = school | {
        "sessions": [r for r in school["sessions"] if r["session_id"] in known],
        "as_of": [{"as_of_date": then}],
    }
    before = build_over(names, **tables(cut))
    for name in names:
        query = f"SELECT * FROM {name} ORDER BY ALL"
        assert asked.sql(query).pl().equals(before.sql(query).pl()), name


def test_setting_aside_a_session_takes_it_out_and_says_so() -> None:
    school = fly(TRUTHS)
    note = {"review_id": "r1", "kind": "set-aside", "session_id": "weak-07", "note": "traffic"}
    con = build_over(["flags"], **tables(school | {"reviews": [note]}))
    (flag,) = rows(con, "FROM flags WHERE student_id = 'weak'")
    assert flag["excluded"] == ["1 session: set aside by an instructor: traffic"]
    assert not any(m.startswith("weak-07") for m in flag["evidence"])
    (level,) = rows(con, "FROM current_levels WHERE student_id = 'weak' AND aspect = 'altitude'")
    assert level["session_no"] == 7


def test_a_promotion_changes_ratios_not_measures() -> None:
    school = fly({"good": 0.6, "more": 0.7})
    promoted = [s | {"stage": "instrument"} for s in school["students"]]
    stages = [{"stage": "instrument", "standard_id": "faa-instrument"}]
    given = school | {"students": promoted, "stage_standards": stages}
    con = build_over(["maneuver_scores"], **tables(given))
    plain = build_over(["maneuver_scores"], **tables(school))
    query = (
        "SELECT tolerance_ratio FROM maneuver_scores WHERE aspect = 'altitude' ORDER BY maneuver_id"
    )
    after, before = (np.array([r["tolerance_ratio"] for r in rows(c, query)]) for c in (con, plain))
    assert after == pytest.approx(2 * before)
