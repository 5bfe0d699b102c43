"""`levelhold query`: one SELECT over the relations, in four shapes, changing nothing."""

import csv
import io
import json
from pathlib import Path

import pyarrow.parquet as pq
import pytest

from tests.cli.conftest import Run

FIGURES = """
    SELECT maneuver_id, start_s, end_s, altitude_bias_ft, airspeed_hold_reason
    FROM maneuvers
    JOIN altitude_hold USING (maneuver_id)
    JOIN airspeed_hold USING (maneuver_id)
"""


def test_a_figure_can_be_followed_to_a_maneuver_and_its_seconds(run: Run, school: Path) -> None:
    done = run("query", "--warehouse", school / "warehouse", "--format", "json", FIGURES)
    assert done.code == 0
    (row,) = json.loads(done.out)
    assert (row["maneuver_id"], row["start_s"], row["end_s"]) == ("s1.1.01", 0.0, 120.0)
    assert abs(row["altitude_bias_ft"]) < 5
    assert row["airspeed_hold_reason"]


def test_a_table_is_for_reading_and_counts_its_rows(run: Run, school: Path) -> None:
    query = "SELECT session_id, air, sample_count FROM sessions"
    done = run("query", "--warehouse", school / "warehouse", query)
    assert done.out.splitlines() == [
        "session_id  air  sample_count",
        "----------  ---  ------------",
        "s1          -             121",
        "(1 row)",
    ]


def test_a_wide_row_is_written_down_the_page(run: Run, school: Path) -> None:
    done = run("query", "--warehouse", school / "warehouse", "FROM sessions")
    assert "student_id       TH01" in done.out.splitlines()


def test_csv_leaves_the_unknown_empty(run: Run, school: Path) -> None:
    query = "SELECT session_id, air, started_at, channels FROM sessions"
    done = run("query", "--warehouse", school / "warehouse", "--format", "csv", query)
    (row,) = csv.DictReader(io.StringIO(done.out))
    assert row == {
        "session_id": "s1",
        "air": "",
        "started_at": "2026-02-02T09:00:00Z",
        "channels": '["altitude_ft", "heading_deg"]',
    }


def test_parquet_goes_into_a_file(run: Run, school: Path, tmp_path: Path) -> None:
    file = tmp_path / "rows.parquet"
    query = "SELECT student_id FROM students"
    arguments = ("--warehouse", school / "warehouse", "--format", "parquet", "--output", file)
    assert run("query", *arguments, query).out == ""
    assert pq.read_table(file).to_pylist() == [{"student_id": "TH01"}]


@pytest.mark.parametrize(
    "sql",
    [
        "COPY (SELECT 1) TO 'rows.csv'",
        "CREATE TABLE kept AS SELECT 1",
        "SET threads = 2",
        "SELECT 1; SELECT 2",
        "",
    ],
)
def test_anything_but_one_select_is_refused(run: Run, school: Path, sql: str) -> None:
    done = run("query", "--warehouse", school / "warehouse", sql)
    assert done.code == 2
    assert done.err == "levelhold: a query is one SELECT: it reads, and changes nothing\n"


def test_a_query_reads_no_file_outside_the_warehouse(
    run: Run, school: Path, tmp_path: Path
) -> None:
    (tmp_path / "secret.csv").write_text("a\n1\n")
    sql = f"SELECT * FROM read_csv('{tmp_path}/secret.csv')"
    done = run("query", "--warehouse", school / "warehouse", sql)
    assert done.code == 2
    assert "Permission Error" in done.err


def test_a_misspelt_relation_is_answered_with_the_nearest_name(run: Run, school: Path) -> None:
    done = run("query", "--warehouse", school / "warehouse", "SELECT * FROM manoeuvres")
    assert done.code == 2
    assert "did you mean maneuvers?" in done.err
    assert done.err.count("\n") == 1


def test_the_nearest_column_is_named(run: Run, school: Path) -> None:
    sql = "SELECT altitude_rms_ft FROM altitude_hold"
    done = run("query", sql, "--warehouse", school / "warehouse")
    assert done.code == 2
    assert "did you mean altitude_rmse_ft?" in done.err


def test_a_warehouse_that_is_not_there_is_wrong_usage(run: Run, tmp_path: Path) -> None:
    done = run("query", "--warehouse", tmp_path / "none", "SELECT 1")
    assert (done.code, done.out) == (2, "")
    assert "there is no such warehouse folder" in done.err
