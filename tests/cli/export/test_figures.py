"""What is exported is what a query says and what the pages draw."""

import json
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import polars as pl
import pytest
from lifelines import KaplanMeierFitter

from tests.cli.conftest import Run
from tests.cli.export.conftest import outcome, read
from tests.larger_school import WEEKS


def test_what_is_exported_is_what_a_query_says(run: Run, made: Path) -> None:
    query = "SELECT cell_id, student_count, median, q1, q3, ln_mean, ln_sd FROM share_cells"
    done = run("query", "--warehouse", made / "warehouse", "--format", "json", query)
    asked = {row.pop("cell_id"): row for row in json.loads(done.out)}
    shown = read(made / "cells", "cells").filter(~pl.col("is_withheld"))
    assert shown.height > 10
    for row in shown.iter_rows(named=True):
        assert asked[row["cell_id"]] == {name: row[name] for name in asked[row["cell_id"]]}


@pytest.mark.slow
def test_the_example_agrees_with_itself_where_a_standard_is_masked(
    made: Path, tmp_path: Path
) -> None:
    alone = Path(shutil.copytree(made / "weeks", tmp_path / "weeks"))
    weeks = read(alone, "student_weeks")
    is_masked = pl.col("student_code") == weeks["student_code"][0]
    masked = weeks.with_columns(pl.when(~is_masked).then(pl.col("standard_id")))
    masked.write_parquet(alone / "data" / "student_weeks.parquet")
    masked.write_csv(alone / "data" / "student_weeks.csv")
    agrees, said = outcome(sys.executable, "-I", alone / "example.py")
    assert agrees, said


NUMBERED = """
    SELECT s.student_id, m.session_id, m.maneuver_id, m.kind, m.is_scored, ROUND(m.observed_s) AS observed_s,
        ROUND(a.altitude_hold95_ft, 1) AS altitude_hold95_ft,
        ROUND(a.altitude_bias_ft, 1) AS altitude_bias_ft,
        ROUND(h.heading_rmse_deg, 2) AS heading_rmse_deg, ROUND(c.held_control, 4) AS held_control,
        ROUND(r.tolerance_ratio, 3) AS altitude_ratio,
        ROUND(g.control_reversals_per_min, 2) AS control_reversals_per_min, g.trim_inputs,
        DENSE_RANK() OVER (PARTITION BY s.student_id ORDER BY s.session_date, s.started_at) AS session_no,
        ROW_NUMBER() OVER (PARTITION BY m.session_id ORDER BY m.start_s) AS maneuver_no
    FROM maneuvers AS m
    JOIN sessions AS s USING (session_id)
    LEFT JOIN altitude_hold AS a USING (maneuver_id)
    LEFT JOIN heading_hold AS h USING (maneuver_id)
    LEFT JOIN held_control AS c USING (maneuver_id)
    LEFT JOIN steadiness AS g USING (maneuver_id)
    LEFT JOIN maneuver_scores AS r ON m.maneuver_id = r.maneuver_id AND r.aspect = 'altitude'
"""


@pytest.mark.slow
def test_rows_are_what_a_query_says_under_the_codes_of_the_key_file(run: Run, made: Path) -> None:
    done = run("query", "--warehouse", made / "warehouse", "--format", "json", NUMBERED)
    [held] = json.loads((made / "keys.json").read_text())["codes"].values()
    asked = {}
    for row in json.loads(done.out):
        student = held["student"][row.pop("student_id")]
        number = f"s{row.pop('session_no'):03d}-m{row.pop('maneuver_no'):02d}"
        del row["session_id"], row["maneuver_id"]
        asked[f"{student}-{number}"] = row
    told = {
        row["maneuver_code"]: row for row in read(made / "rows", "maneuvers").iter_rows(named=True)
    }
    assert told.keys() == asked.keys()
    for code, row in asked.items():
        assert {name: told[code][name] for name in row} == row


def test_movements_of_control_and_trim_are_those_of_a_query(run: Run, made: Path) -> None:
    """They rest on kept measures that nothing else in an export reads."""
    query = (
        "SELECT SUM(trim_inputs) AS trims, SUM(control_reversals_per_min) AS turns FROM steadiness"
    )
    done = run("query", "--warehouse", made / "warehouse", "--format", "json", query)
    [asked] = json.loads(done.out)
    rows = read(made / "rows", "maneuvers")
    assert rows["trim_inputs"].sum() == asked["trims"] > 0
    assert rows["control_reversals_per_min"].sum() == pytest.approx(asked["turns"], abs=0.005 * 500)
    assert asked["turns"] > 10


def test_a_query_for_released_cells_shows_none_before_they_were_judged(
    run: Run, made: Path
) -> None:
    query = "SELECT COUNT(*) AS n FROM released_cells WHERE NOT is_withheld"
    done = run("query", "--warehouse", made / "warehouse", "--format", "json", query)
    assert json.loads(done.out) == [{"n": 0}]


def test_the_example_draws_the_chart_of_the_pages_from_the_export_alone(
    run: Run, made: Path, tmp_path: Path
) -> None:
    for package in ("cells", "weeks", "rows"):
        alone = Path(shutil.copytree(made / package, tmp_path / package))
        done = subprocess.run(
            [sys.executable, "-I", alone / "example.py"],
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 0, done.stderr
    sys.path.insert(0, str(tmp_path / "cells"))
    try:
        import example  # type: ignore[import-not-found, unused-ignore]
    finally:
        sys.path.pop(0)
    weeks, _ = example.cohort_weeks(tmp_path / "cells" / "data")
    assert_same_weeks(run, made, weeks)
    curve, _ = example.survival(tmp_path / "rows" / "data")
    assert_same_curve(run, made, curve)
    assert_curves_are_those_of_lifelines(made / "rows", curve)


def assert_curves_are_those_of_lifelines(package: Path, curve: pl.DataFrame) -> None:
    """Kaplan-Meier by an independent library, from the rows of the export alone."""
    group = ["cohort", "device_class", "basis", "figure"]
    followed = read(package, "events").filter("is_in_curves")
    for of, told in curve.group_by(group):
        same = [pl.col(name).eq_missing(value) for name, value in zip(group, of, strict=True)]
        events = followed.filter(*same)
        fitted = KaplanMeierFitter().fit(events["time_s"].to_list(), events["is_event"].to_list())
        expected = fitted.survival_function_["KM_estimate"]
        assert told.height == events["time_s"].n_unique()
        for time, survival in told.select("time_s", "survival").iter_rows():
            assert survival == pytest.approx(expected.loc[time], abs=6e-5)


def test_the_lines_for_survival_analysis_in_the_readme_run_as_they_stand(
    made: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = (made / "rows" / "README.md").read_text()
    lines = [line[4:] for line in text.splitlines() if line.startswith("    ")]
    monkeypatch.chdir(made / "rows")
    names: dict[str, Any] = {}
    exec("\n".join(lines), names)
    settled = read(made / "rows", "events").filter("is_in_curves", figure="settled")
    assert names["cox"].event_observed.sum() == settled["is_event"].sum() > 10
    assert names["km"].survival_function_["KM_estimate"].min() > 0  # some are censored


def assert_same_weeks(run: Run, made: Path, weeks: pl.DataFrame) -> None:
    """The weekly figures are those of the pages' chart of cohorts, but for the cohorts that are
    withheld.
    """
    query = "SELECT aspect, cohort, week, median, q1, q3, student_count FROM page_cohort_weeks"
    done = run("query", "--warehouse", made / "warehouse", "--format", "json", query)
    drawn = {(r["aspect"], r["cohort"], r["week"]): r for r in json.loads(done.out)}
    assert set(weeks["cohort"]) == {"autumn", "winter"}
    assert weeks.height == 3 * 2 * WEEKS
    for row in weeks.iter_rows(named=True):
        expected = drawn[row["aspect"], row["cohort"], row["week_no"]]
        assert {n: row[n] for n in ("median", "q1", "q3", "student_count")} == {
            n: expected[n] for n in ("median", "q1", "q3", "student_count")
        }


def assert_same_curve(run: Run, made: Path, curve: pl.DataFrame) -> None:
    """The share not yet trimmed is that of the pages' curves at every event's time."""
    query = "SELECT cohort, figure, time_s, ROUND(survival, 4) AS survival FROM settling_curves"
    done = run("query", "--warehouse", made / "warehouse", "--format", "json", query)
    drawn = {(r["cohort"], r["figure"], round(r["time_s"], 3)): r for r in json.loads(done.out)}
    named = curve.drop_nulls("cohort")
    assert set(named["cohort"]) == {"autumn", "winter"}
    assert named.height > 20
    for row in named.iter_rows(named=True):
        expected = drawn[row["cohort"], row["figure"], row["time_s"]]
        assert row["survival"] == pytest.approx(expected["survival"], abs=1.5e-4)
