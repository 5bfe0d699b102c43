"""`levelhold definitions`: every column there is, explained."""

import csv
import io
import json

from pipeline.relations import relation_files
from tests.cli.conftest import Run


def test_one_relation_is_explained_in_words(run: Run) -> None:
    done = run("definitions", "altitude_hold")
    assert done.code == 0
    assert "altitude_hold (sql/4_measure/altitude_hold.sql)" in done.out
    assert "altitude_hold.altitude_rmse_ft [ft] double" in done.out
    assert "Grain: maneuver_id" in done.out


def test_every_relation_has_its_columns_explained(run: Run) -> None:
    rows = json.loads(run("definitions", "--format", "json").out)
    assert {row["relation"] for row in rows} == set(relation_files())
    assert all(row["meaning"] for row in rows)


def test_a_spreadsheet_can_read_them(run: Run) -> None:
    done = run("definitions", "sessions", "--format", "csv")
    columns = [row["column"] for row in csv.DictReader(io.StringIO(done.out))]
    assert columns[:2] == ["session_id", "student_id"]


def test_a_misspelt_relation_is_answered_with_the_nearest_name(run: Run) -> None:
    done = run("definitions", "altitude_holds")
    assert done.code == 2
    assert done.err == (
        "levelhold: there is no relation altitude_holds; did you mean altitude_hold?\n"
    )
