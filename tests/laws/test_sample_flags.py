"""The flags of the sample school are those that its students' stories call for, no more, no fewer."""

import shutil
from pathlib import Path

import duckdb
import pytest

from pipeline.measure import measure_warehouse
from pipeline.reading import open_warehouse, school_settings
from pipeline.store import Warehouse
from sample_warehouse.school import STORIES

pytestmark = pytest.mark.slow

SAMPLE = Path(__file__).parents[2] / "sample_warehouse"
PARTS = ("devices", "roster", "samples", "sessions", "tasks")
CALLED_FOR = {
    "poor in altitude": ("altitude", "altitude_"),
    "poor in heading": ("heading", "heading_"),
    "poor in heading, also across north": ("heading", "heading_"),
    "slips back in altitude": ("altitude", "altitude_"),
    "slips back in heading": ("heading", "heading_"),
    "holds by muscle, pulling": ("trim", "held_pull"),
    "holds by muscle, pushing": ("trim", "held_push"),
}
TOO_FEW = ("one session only, then not seen", "new: too early to say", "mostly rough air")


@pytest.fixture(scope="module")
def con(tmp_path_factory: pytest.TempPathFactory) -> duckdb.DuckDBPyConnection:
    folder = tmp_path_factory.mktemp("sample")
    for part in PARTS:
        shutil.copytree(SAMPLE / part, folder / part)
    shutil.copy(SAMPLE / "school.toml", folder)
    warehouse = Warehouse(folder)
    settings = school_settings(warehouse)
    measure_warehouse(warehouse, settings)
    names = ["flags", "worth_a_word", "not_seen", "insufficient_data", "student_trends"]
    return open_warehouse(warehouse, settings, names)


def told(con: duckdb.DuckDBPyConnection, query: str) -> list[tuple[str, ...]]:
    return con.execute(query).fetchall()


def test_every_flag_is_called_for_and_none_is_missing(con: duckdb.DuckDBPyConnection) -> None:
    found = told(con, "SELECT student_id, aspect, fault FROM flags")
    expected = {s.student_id: CALLED_FOR[s.story] for s in STORIES if s.story in CALLED_FOR}
    aspects = {student: aspect for student, aspect, _ in found}
    assert aspects == {student: aspect for student, (aspect, _) in expected.items()}
    assert len(found) == len(aspects)
    for student, _, fault in found:
        assert fault.startswith(expected[student][1]), (student, fault)


def test_who_chases_the_needle_is_worth_a_word(con: duckdb.DuckDBPyConnection) -> None:
    found = {s for (s,) in told(con, "SELECT student_id FROM worth_a_word WHERE habit = 'chasing'")}
    assert found == {s.student_id for s in STORIES if s.chases}


def test_those_who_slip_are_seen_to(con: duckdb.DuckDBPyConnection) -> None:
    query = "SELECT student_id FROM student_trends WHERE trend = 'slipping'"
    slipping = {s for (s,) in told(con, query)}
    assert slipping == {s.student_id for s in STORIES if s.story.startswith("slips")}


def test_too_few_sessions_is_said_and_who_left_is_on_no_list(
    con: duckdb.DuckDBPyConnection,
) -> None:
    few = {s for (s,) in told(con, "SELECT DISTINCT student_id FROM insufficient_data")}
    assert {s.student_id for s in STORIES if s.story in TOO_FEW} <= few
    gone = {s.student_id for s in STORIES if s.left_on}
    for relation in ("flags", "worth_a_word", "not_seen", "insufficient_data"):
        listed = {s for (s,) in told(con, f"SELECT student_id FROM {relation}")}
        assert not listed & gone, relation


def test_who_was_not_seen_for_three_weeks_is_listed(con: duckdb.DuckDBPyConnection) -> None:
    found = {s for (s,) in told(con, "SELECT student_id FROM not_seen")}
    assert found == {s.student_id for s in STORIES if "not seen" in s.story}
