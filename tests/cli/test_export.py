"""`levelhold export`: a package for research that stands alone, gives nobody away and can be made
again.
"""

import csv
import hashlib
import json
import os
import platform
import re
import shutil
import subprocess
import sys
import venv
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import frictionless
import polars as pl
import pyarrow.parquet as pq
import pytest
from lifelines import KaplanMeierFitter

from pipeline.cli import main
from pipeline.export.register import read_release
from pipeline.export.release import otherwise
from pipeline.store import Warehouse
from tests.cli.conftest import Run
from tests.larger_school import COHORTS, WEEKS, write_larger_school, write_roster

IDENTIFIERS = re.compile(rb"LS\d\d|SIM-\d|INS-\d|grey goose|brown cow|2026-0[12]-")
"""Students, devices, instructors, the aircraft type, the lesson and session dates of the school."""


def leave(*arguments: object) -> int:
    with pytest.raises(SystemExit) as leaving:
        main([str(argument) for argument in arguments])
    return int(leaving.value.code or 0)


@pytest.fixture(scope="module")
def larger(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The warehouse of a generated larger school, measured; tests only read it."""
    folder = tmp_path_factory.mktemp("larger")
    inbox = write_larger_school(folder / "inbox")
    warehouse = folder / "warehouse"
    assert leave("ingest", "--quiet", "--inbox", inbox, "--warehouse", warehouse) == 0
    assert leave("score", "--quiet", "--warehouse", warehouse, "--workers", 1) == 0
    return warehouse


@pytest.fixture(scope="module")
def made(larger: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with `warehouse`, the exports `cells`, `rows` and (linked to these) `weeks` made
    from it one after the other, `keys.json`.
    """
    folder = tmp_path_factory.mktemp("made")
    warehouse = Path(shutil.copytree(larger, folder / "warehouse"))
    terms = 'licence = "CC-BY-4.0"\ncontact = "the school\'s office"\n'
    (warehouse / "school.toml").write_text(f"[export]\n{terms}")
    words = ("--ethics", "by consent")
    cells = ("export", "--warehouse", warehouse, "--out", folder / "cells", *words)
    rows = ("export", "--warehouse", warehouse, "--out", folder / "rows", "--level", "maneuver")
    assert leave(*cells) == 0
    assert leave(*rows, "--key", folder / "keys.json") == 0
    release = json.loads((folder / "rows" / "run.json").read_text())["release_id"]
    weeks = ("export", "--warehouse", warehouse, "--out", folder / "weeks", "--level", "student")
    assert leave(*weeks, "--key", folder / "keys.json", "--link", release) == 0
    return folder


@pytest.fixture
def copy(larger: Path, tmp_path: Path) -> Path:
    """A warehouse of one's own to change."""
    return Path(shutil.copytree(larger, tmp_path / "warehouse"))


@pytest.fixture(params=["cells", "weeks", "rows"])
def package(request: pytest.FixtureRequest, made: Path) -> Path:
    """Each of the three exports."""
    return made / str(request.param)


def described(package: Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((package / "datapackage.json").read_text())
    return found


def tables(package: Path) -> Iterator[dict[str, Any]]:
    yield from (r for r in described(package)["resources"] if r.get("type") == "table")


def read(package: Path, table: str) -> pl.DataFrame:
    return pl.read_parquet(package / "data" / f"{table}.parquet")


def test_the_package_is_valid(package: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """By frictionless, which reads Data Package 2.0 and every row of every CSV table."""
    monkeypatch.chdir(package)
    content = described(package)
    content["resources"] = list(tables(package))
    report = frictionless.Package.from_descriptor(content).validate()
    assert report.valid, report.flatten(["type", "title", "note"])
    assert report.stats["tasks"] == len(content["resources"])


def test_the_validator_would_find_a_fault(
    made: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    package = Path(shutil.copytree(made / "cells", tmp_path / "cells"))
    path = package / "data" / "cells.csv"
    path.write_text(path.read_text().replace(",altitude,", ",latitude,", 1))
    monkeypatch.chdir(package)
    content = described(package)
    content["resources"] = list(tables(package))
    assert not frictionless.Package.from_descriptor(content).validate().valid


def test_every_digest_is_right_and_every_file_is_listed(package: Path) -> None:
    run = json.loads((package / "run.json").read_text())["sha256"]
    there = {p.relative_to(package).as_posix(): p for p in package.rglob("*") if p.is_file()}
    assert run.keys() == there.keys() - {"run.json"}
    digests = {name: hashlib.sha256(path.read_bytes()).hexdigest() for name, path in there.items()}
    assert all(digests[name] == digest for name, digest in run.items())
    for resource in described(package)["resources"]:
        assert resource["hash"] == f"sha256:{digests[resource['path']]}"


def test_csv_and_parquet_hold_the_same_rows(package: Path) -> None:
    for resource in tables(package):
        frame = read(package, resource["name"])
        with (package / resource["path"]).open(newline="") as file:
            rows = list(csv.DictReader(file))
        assert len(rows) == frame.height > 0
        for row, held in zip(rows, frame.iter_rows(named=True), strict=True):
            for name, value in held.items():
                text = row[name]
                if value is None:
                    assert text in ("", "(withheld)")
                elif isinstance(value, bool):
                    assert text == str(value).lower()
                else:
                    assert type(value)(text) == value


def test_parquet_files_carry_their_units_and_nothing_of_who_made_them(package: Path) -> None:
    for resource in tables(package):
        path = package / "data" / f"{resource['name']}.parquet"
        carried = pq.read_metadata(path).metadata
        assert carried.keys() == {b"ARROW:schema", b"levelhold"}
        told = json.loads(carried[b"levelhold"])
        assert told.keys() == {"release", "definitions", "levelhold", "units"}
        fields = {f["name"]: f.get("unit", "") for f in resource["schema"]["fields"]}
        assert told["units"] == fields


def test_keys_are_unique_and_refer_to_rows_that_are_there(package: Path) -> None:
    for resource in tables(package):
        frame = read(package, resource["name"])
        assert frame.select(resource["schema"]["primaryKey"]).is_unique().all()
        for link in resource["schema"].get("foreignKeys", []):
            target = read(package, link["reference"]["resource"])
            assert frame.join(target, on=link["fields"], how="anti").is_empty()


def test_nothing_in_it_names_a_student_an_instructor_a_device_or_a_day(package: Path) -> None:
    for path in package.rglob("*"):
        if path.is_file() and path.parent.name != "sql" and path.suffix != ".sql":
            content = path.read_bytes()
            found = IDENTIFIERS.search(content)
            assert found is None, (path.name, found)


def test_every_column_is_explained(package: Path) -> None:
    with (package / "codebook.csv").open(newline="") as file:
        book = {(row["table"], row["column"]): row for row in csv.DictReader(file)}
    for resource in tables(package):
        rows = [r for (name, _), r in book.items() if name == resource["name"]]
        keys = {r["column"] for r in rows if r["is_key"] == "true"}
        assert keys == set(resource["schema"]["primaryKey"])
        for field in resource["schema"]["fields"]:
            row = book[resource["name"], field["name"]]
            assert row["meaning"]
            assert row["missing"]
            assert row["source"]
            assert row["unit"] == field.get("unit", "")


def test_the_readme_answers_what_a_reader_asks(package: Path) -> None:
    text = (package / "README.md").read_text()
    for resource in tables(package):
        assert f"`{resource['name']}`" in text
    for heading in (
        "In short",
        "What is a row",
        "How each number was made",
        "What is missing, and why",
        *(["Censoring"] if package.name != "weeks" else []),
        "Who is in it, and who was left out",
        "Disclosure control",
        "Limits",
        "To cite it",
    ):
        assert f"## {heading}\n" in text
    assert "certify nobody" in text
    assert "$" not in text
    assert "\n@" not in text


TOLD = frozenset(
    [
        *("(withheld)", "unknown", "late-01", "late-02", "rest", "python example.py"),
        "levelhold export --verify DIR",
    ]
)
"""What a README may name in code type besides files, tables, columns and codes."""


def test_the_readme_speaks_of_nothing_that_is_not_in_the_folder(package: Path) -> None:
    """Of the columns of other levels least of all."""
    files = {p.relative_to(package).as_posix() for p in package.rglob("*")}
    names = {resource["name"] for resource in tables(package)}
    columns = {field["name"] for r in tables(package) for field in r["schema"]["fields"]}
    codes = {
        code
        for name in names
        for column in read(package, name).iter_columns()
        if column.name.endswith("_code") and column.name not in ("student_code", "session_code")
        for code in column.unique().drop_nulls()
    }
    text = (package / "README.md").read_text()
    named = set(re.findall(r"`([^`\n]+)`", text))
    known = TOLD | files | names | columns | codes
    known |= {file.removesuffix("/") + "/" for file in files}
    unknown = {n for n in named - known if not re.fullmatch(r"_code|[0-9a-f]{16}", n)}
    patterns = {"definitions/sql/9_share/released_*.sql", "standards.csv", "stages.csv"}
    assert unknown <= patterns


def test_the_codebook_says_what_an_empty_cell_means_wherever_there_is_one(package: Path) -> None:
    with (package / "codebook.csv").open(newline="") as file:
        book = {(row["table"], row["column"]): row["missing"] for row in csv.DictReader(file)}
    for resource in tables(package):
        with (package / resource["path"]).open(newline="") as file:
            rows = list(csv.DictReader(file))
        for column in rows[0]:
            seen = {row[column] for row in rows if row[column] in ("", "(withheld)")}
            told = book[resource["name"], column]
            where = (resource["name"], column, told)
            assert "empty: " in told or "" not in seen, where
            assert "(withheld)" in told or "(withheld)" not in seen, where
            assert not (told == "never empty" and seen), where


def test_counts_of_cells_agree_with_the_tables(made: Path) -> None:
    report = json.loads((made / "cells" / "disclosure.json").read_text())
    cells, curves = read(made / "cells", "cells"), read(made / "cells", "curves")
    shown = curves.filter(pl.col("student_count").is_not_null())["cell_id"].n_unique()
    assert report["shown"] == {
        "cells": cells.filter(~pl.col("is_withheld")).height,
        "curves": shown,
    }
    assert report["withheld"]["cells"] == cells.filter("is_withheld").height
    assert report["withheld"]["curves"] == curves["cell_id"].n_unique() - shown
    text = (made / "cells" / "README.md").read_text()
    assert f"In `cells`: {report['shown']['cells']} of {cells.height} rows are shown" in text


def test_the_sql_of_every_figure_is_in_it(package: Path) -> None:
    there = {path.stem for path in (package / "definitions" / "sql").rglob("*.sql")}
    for resource in tables(package):
        assert f"released_{resource['name']}" in there
    with (package / "definitions" / "fingerprints.csv").open(newline="") as file:
        prints = {row["relation"]: row["sha256"] for row in csv.DictReader(file)}
    assert prints.keys() == there
    for path in (package / "definitions" / "sql").rglob("*.sql"):
        assert hashlib.sha256(path.read_bytes()).hexdigest() == prints[path.stem]


def test_a_withheld_cell_is_null_and_says_so_never_zero(made: Path) -> None:
    cells = read(made / "cells", "cells")
    figures = cells.columns[cells.columns.index("is_withheld") + 1 :]
    withheld = cells.filter("is_withheld")
    assert withheld.height > 0
    assert withheld.select(pl.all_horizontal(pl.col(figures).is_null()).all()).item()
    shown = cells.filter(~pl.col("is_withheld"))
    assert shown.select((pl.col("student_count") >= 10).all()).item()
    small = [cohort.name for cohort in COHORTS if cohort.students < 10]
    assert cells.filter(pl.col("cohort").is_in(small))["is_withheld"].all()
    with (made / "cells" / "data" / "cells.csv").open(newline="") as file:
        for row in csv.DictReader(file):
            if row["is_withheld"] == "true":
                assert {row[name] for name in figures} == {"(withheld)"}
    with (made / "cells" / "data" / "cells_wide.csv").open(newline="") as file:
        wide = list(csv.DictReader(file))
    hidden = [row for row in wide if row["is_altitude_withheld"] == "true"]
    assert hidden
    assert {row["altitude_median"] for row in hidden} == {"(withheld)"}


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
        DENSE_RANK() OVER (PARTITION BY s.student_id ORDER BY s.session_date, s.started_at) AS session_no,
        ROW_NUMBER() OVER (PARTITION BY m.session_id ORDER BY m.start_s) AS maneuver_no
    FROM maneuvers AS m
    JOIN sessions AS s USING (session_id)
    LEFT JOIN altitude_hold AS a USING (maneuver_id)
    LEFT JOIN heading_hold AS h USING (maneuver_id)
    LEFT JOIN held_control AS c USING (maneuver_id)
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


@pytest.mark.slow
def test_another_place_time_zone_language_and_hash_seed_change_no_byte(
    made: Path, tmp_path: Path
) -> None:
    elsewhere = Path(shutil.copytree(made, tmp_path / "elsewhere"))
    command = "import sys; from pipeline.cli import main; main(sys.argv[1:])"
    asked = (sys.executable, "-c", command, "export", "--warehouse", elsewhere / "warehouse")
    other = os.environ | {"TZ": "Asia/Tokyo", "LC_ALL": "C", "PYTHONHASHSEED": "11"}
    for more in (
        ("--verify", made / "cells"),
        ("--verify", made / "rows", "--key", elsewhere / "keys.json"),
    ):
        done = subprocess.run(
            [*asked, *more],
            capture_output=True,
            text=True,
            check=False,
            cwd=Path(__file__).parents[2],
            env=other,
        )
        assert done.returncode == 0, done.stdout + done.stderr


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


def test_an_export_can_be_made_again_byte_for_byte(run: Run, made: Path) -> None:
    arguments = ("--verify", made / "rows", "--key", made / "keys.json", "--json")
    done = run("export", "--warehouse", made / "warehouse", *arguments)
    assert done.code == 0
    report = json.loads(done.out)
    assert len(report["same"]) > 20
    assert report["different"] + report["missing"] + report["unknown"] == []


@pytest.mark.slow
def test_other_settings_are_named(run: Run, made: Path, tmp_path: Path) -> None:
    warehouse = Path(shutil.copytree(made / "warehouse", tmp_path / "warehouse"))
    (warehouse / "school.toml").write_text('[stages]\nfirst-lessons = "faa-private-instruments"\n')
    done = run("export", "--warehouse", warehouse, "--verify", made / "cells")
    assert done.code == 3
    assert "differs: data/cells.csv" in done.out
    assert "note: definitions or settings are not those that it was made with" in done.out


@pytest.mark.slow
def test_other_codes_in_the_key_file_are_seen(run: Run, made: Path, tmp_path: Path) -> None:
    key = tmp_path / "keys.json"
    content = (made / "keys.json").read_text()
    code = json.loads(content)["codes"].popitem()[1]["student"]["LS01"]
    key.write_text(content.replace(code, "P00000000"))
    done = run("export", "--warehouse", made / "warehouse", "--verify", made / "rows", "--key", key)
    assert done.code == 3
    assert "differs: data/students.csv" in done.out
    assert "differs: definitions" not in done.out


def test_another_version_is_named_and_alone_changes_no_file(made: Path) -> None:
    record = read_release(Warehouse(made / "warehouse"), _release_of(made / "cells"))
    facts = dict(record.facts) | {"versions": record.facts["versions"] | {"python": "3.11.0"}}
    made_then = {
        p.relative_to(made / "cells").as_posix(): p.read_bytes() for p in _files(made / "cells")
    }
    notes = list(otherwise(replace(record, facts=facts), made_then))
    assert notes == [f"it was made with python 3.11.0, this is {platform.python_version()}"]
    assert list(otherwise(record, made_then)) == []


def _release_of(package: Path) -> str:
    return str(json.loads((package / "run.json").read_text())["release_id"])


def _files(package: Path) -> list[Path]:
    return [path for path in package.rglob("*") if path.is_file()]


@pytest.mark.slow
def test_the_number_of_threads_changes_no_byte(made: Path) -> None:
    from pipeline.export import verify_release
    from pipeline.reading import school_settings

    place = Warehouse(made / "warehouse")
    settings = school_settings(place)
    for package in ("cells", "weeks", "rows"):
        report = verify_release(made / package, place, settings, made / "keys.json", threads=4)
        assert report.is_same, report


def test_what_was_changed_since_is_named(run: Run, made: Path, tmp_path: Path) -> None:
    package = Path(shutil.copytree(made / "cells", tmp_path / "cells"))
    cells = package / "data" / "cells.csv"
    cells.write_bytes(cells.read_bytes().replace(b"true", b"false", 1))
    (package / "codebook.csv").unlink()
    (package / "notes.txt").write_text("mine")
    done = run("export", "--warehouse", made / "warehouse", "--verify", package)
    assert done.code == 3
    assert done.out.splitlines()[1:] == [
        "differs: data/cells.csv",
        "missing: codebook.csv",
        "does not belong: notes.txt",
    ]


@pytest.mark.slow
def test_the_same_release_twice_has_the_same_data(run: Run, made: Path, tmp_path: Path) -> None:
    warehouse = shutil.copytree(made / "warehouse", tmp_path / "warehouse")
    done = run("export", "--warehouse", warehouse, "--out", tmp_path / "again")
    assert done.code == 0
    for path in (made / "cells" / "data").glob("*.csv"):
        assert (tmp_path / "again" / "data" / path.name).read_bytes() == path.read_bytes()


def test_what_an_export_says_of_its_terms_comes_from_the_settings_or_the_options(
    made: Path,
) -> None:
    for package in (made / "cells", made / "rows"):
        text = (package / "README.md").read_text()
        assert "Licence: CC-BY-4.0." in text
        assert "Contact: the school's office." in text
        assert described(package)["licenses"] == [{"name": "CC-BY-4.0"}]
        assert 'license: "CC-BY-4.0"' in (package / "CITATION.cff").read_text()
    assert "Consent and ethics: by consent." in (made / "cells" / "README.md").read_text()
    assert "Consent and ethics: not stated" in (made / "rows" / "README.md").read_text()


def test_check_only_writes_nothing_and_misses_once_the_terms_that_are_not_given(
    run: Run, copy: Path
) -> None:
    before = sorted(copy.rglob("*"))
    done = run("export", "--warehouse", copy, "--check-only", "--ethics", "by consent")
    assert done.code == 0
    assert done.err.count("note: ") == 1
    assert (
        "names no licence, no contact: set licence, contact in [export] of school.toml" in done.err
    )
    assert "cells shown" in done.out
    assert sorted(copy.rglob("*")) == before


def test_a_release_that_one_session_tells_from_another_is_refused(
    run: Run, copy: Path, tmp_path: Path
) -> None:
    assert run("export", "--warehouse", copy, "--out", tmp_path / "first").code == 0
    withdrawn = run("withdraw", "LS01-w1", "--note", "a test", "--warehouse", copy)
    assert withdrawn.code == 0
    before = {p: p.read_bytes() for p in (copy / "releases").iterdir()}
    done = run("export", "--warehouse", copy, "--out", tmp_path / "second")
    assert done.code == 3
    assert "refused: nothing was written" in done.out
    assert "groups of 1 to 9 students" in done.out
    assert not (tmp_path / "second").exists()
    assert {p: p.read_bytes() for p in (copy / "releases").iterdir()} == before
    assert run("export", "--warehouse", copy, "--verify", tmp_path / "first").code == 0


@pytest.mark.slow
def test_two_times_that_do_not_meet_can_both_be_released(
    run: Run, copy: Path, tmp_path: Path
) -> None:
    first = run("export", "--warehouse", copy, "--out", tmp_path / "1", "--to", "2026-01-15")
    second = run("export", "--warehouse", copy, "--out", tmp_path / "2", "--from", "2026-01-16")
    assert (first.code, second.code) == (0, 0)


@pytest.mark.slow
def test_a_cohort_of_its_own_and_all_together_can_both_be_released(
    run: Run, copy: Path, tmp_path: Path
) -> None:
    """What is left of all after the one cohort is 23 students."""
    first = ("export", "--warehouse", copy, "--out", tmp_path / "1", "--cohort", "autumn")
    assert run(*first).code == 0
    assert run("export", "--warehouse", copy, "--out", tmp_path / "2").code == 0


@pytest.mark.slow
def test_a_small_cohort_cannot_be_had_by_asking_for_it_alone(
    run: Run, copy: Path, tmp_path: Path
) -> None:
    """The five students of summer are no cell, asked for beside the others or alone."""
    assert run("export", "--warehouse", copy, "--out", tmp_path / "1").code == 0
    asked = ("export", "--warehouse", copy, "--out", tmp_path / "2", "--cohort", "summer")
    assert run(*asked).code == 3


@pytest.mark.slow
def test_rows_under_new_codes_are_refused_where_equal_figures_would_link_them(
    run: Run, made: Path, tmp_path: Path
) -> None:
    warehouse = shutil.copytree(made / "warehouse", tmp_path / "warehouse")
    key = shutil.copy(made / "keys.json", tmp_path / "keys.json")
    asked = ("export", "--warehouse", warehouse, "--level", "student", "--key", key)
    done = run(*asked, "--out", tmp_path / "other")
    assert done.code == 3
    assert "equal figures would link them" in done.out
    release = json.loads((made / "rows" / "run.json").read_text())["release_id"]
    assert run(*asked, "--out", tmp_path / "linked", "--link", release).code == 0
    codes = set(read(made / "rows", "students")["student_code"])
    assert set(read(tmp_path / "linked", "students")["student_code"]) == codes


@pytest.mark.slow
def test_codes_tell_nothing_and_differ_from_release_to_release(
    run: Run, copy: Path, tmp_path: Path
) -> None:
    key = tmp_path / "keys.json"
    asked = ("export", "--warehouse", copy, "--level", "student", "--key", key)
    assert run(*asked, "--out", tmp_path / "1", "--to", "2026-01-15").code == 0
    assert run(*asked, "--out", tmp_path / "2", "--from", "2026-01-16").code == 0
    first, second = (set(read(tmp_path / n, "students")["student_code"]) for n in ("1", "2"))
    assert not first & second
    ids = [f"LS{n:02d}" for n in range(1, 38)]
    for algorithm in ("md5", "sha1", "sha256", "blake2b"):
        guesses = {f"P{hashlib.new(algorithm, i.encode()).hexdigest()[:8]}" for i in ids}
        assert not guesses & (first | second)


@pytest.fixture
def asked_for_consent(copy: Path, tmp_path: Path) -> Path:
    """The same school after its students were asked: five said no, three said nothing."""
    write_roster(tmp_path / "inbox", with_consent=True)
    arguments = ("--inbox", tmp_path / "inbox", "--warehouse", copy)
    leave("ingest", "--quiet", *arguments)
    return copy


def test_rows_are_of_students_who_agreed_and_cells_of_none_who_refused(
    run: Run, asked_for_consent: Path, tmp_path: Path
) -> None:
    key = tmp_path / "keys.json"
    rows = ("--level", "maneuver", "--out", tmp_path / "rows", "--key", key)
    done = run("export", "--warehouse", asked_for_consent, *rows)
    assert done.code == 0, done.out + done.err
    assert "said no" not in done.out  # fewer than ten students: not told by itself
    codes = json.loads(key.read_text())["codes"]
    students = {i for held in codes.values() for i in held["student"]}
    refused_or_silent = {f"LS{n:02d}" for n in range(1, 38) if n % 7 == 0 or n % 11 == 0}
    assert not students & refused_or_silent
    assert students
    check = run("export", "--warehouse", asked_for_consent, "--check-only", "--json")
    report = json.loads(check.out)
    assert report["is_consent_asked"]
    told = [r for r in report["left_out"] if r["counted"] == "students"]
    assert [(r["reason_code"], r["students_about"]) for r in told] == [("in", 30), ("rest", None)]


@pytest.mark.slow
def test_a_release_can_be_made_again_though_more_has_landed_since(
    run: Run, copy: Path, tmp_path: Path
) -> None:
    assert run("export", "--warehouse", copy, "--out", tmp_path / "before").code == 0
    write_roster(tmp_path / "inbox", with_consent=True)
    leave("ingest", "--quiet", "--inbox", tmp_path / "inbox", "--warehouse", copy)
    assert run("export", "--warehouse", copy, "--verify", tmp_path / "before").code == 0


@pytest.mark.slow
def test_compacting_changes_no_release_but_may_not_mix_it_with_later_batches(
    run: Run, copy: Path, asked_for_consent: Path, tmp_path: Path
) -> None:
    assert asked_for_consent == copy
    after = tmp_path / "after"
    assert run("export", "--warehouse", copy, "--out", after, "--cohort", "winter").code == 0
    assert run("compact", "--warehouse", copy).code == 0
    assert run("export", "--warehouse", copy, "--verify", after).code == 0
    record = next((copy / "releases").glob("r*.parquet"))
    told = pq.read_metadata(record).metadata
    facts = json.loads(told[b"levelhold"])["facts"]
    assert len(facts["batches"]) == 2


def test_a_small_cohort_is_masked_in_rows(made: Path) -> None:
    students = read(made / "rows", "students")
    counts = dict(students.group_by("cohort").len().iter_rows())
    assert counts == {"autumn": 14, "winter": 12, None: 11}


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (["--out", "{made}/cells"], "is there already"),
        (["--out", "{made}/warehouse/out"], "lies in the warehouse"),
        (["--out", "{made}/x", "--level", "student"], "need a key file"),
        (
            ["--out", "{made}/x", "--level", "student", "--key", "{made}/warehouse/k.json"],
            "must lie outside",
        ),
        ([], "--out DIR"),
        (["--out", "{made}/x", "--link", "r1"], "only rows of single students are linked"),
        (["--out", "{made}/x", "--key", "{made}/k"], "--key: figures of groups hold no codes"),
        (["--verify", "{made}/cells", "--check-only"], "--verify makes nothing"),
        (["--verify", "{made}/rows"], "give the key file of the release with --key"),
        (["--verify", "{made}/rows", "--key", "{made}/none"], "holds no codes of release"),
    ],
)
def test_wrong_usage_is_one_sentence(
    run: Run, made: Path, arguments: list[str], sentence: str
) -> None:
    filled = [argument.format(made=made) for argument in arguments]
    done = run("export", "--warehouse", made / "warehouse", *filled)
    assert done.code == 2
    assert sentence in done.err
    assert not (made / "x").exists()


def test_figures_that_were_not_measured_are_not_left_out_in_silence(run: Run, copy: Path) -> None:
    shutil.rmtree(copy / "measures")
    done = run("export", "--warehouse", copy, "--check-only")
    assert done.code == 2
    assert "run levelhold score first" in done.err


@pytest.mark.parametrize(
    ("limit", "sentence"),
    [("share_minimum_students = 4", "too few"), ("share_curve_step_s = 5", "too fine")],
)
def test_limits_that_would_give_somebody_away_are_refused(
    run: Run, copy: Path, limit: str, sentence: str
) -> None:
    (copy / "school.toml").write_text(f"[limits]\n{limit}\n")
    done = run("export", "--warehouse", copy, "--check-only")
    assert done.code == 4
    assert sentence in done.err


def test_a_school_too_small_for_any_cell_is_refused(run: Run, school: Path, tmp_path: Path) -> None:
    warehouse = shutil.copytree(school / "warehouse", tmp_path / "warehouse")
    done = run("export", "--warehouse", warehouse, "--out", tmp_path / "out")
    assert done.code == 3
    assert "no group of 10 students or more" in done.out
    assert not (tmp_path / "out").exists()


def validators(folder: Path, *packages: str) -> Path:
    """The bin folder of a new environment with these packages; skips where they cannot be had, and
    fails where LEVELHOLD_REQUIRE_VALIDATORS is set (CI).
    """
    venv.create(folder, with_pip=True)
    pip: list[str | Path] = [folder / "bin" / "python", "-m", "pip", "install", "-q", *packages]
    installed = subprocess.run(pip, capture_output=True, text=True, check=False)
    if installed.returncode:
        say = pytest.fail if "LEVELHOLD_REQUIRE_VALIDATORS" in os.environ else pytest.skip
        say(f"{packages[0]} could not be installed: {installed.stderr.strip()[-200:]}")
    return folder / "bin"


def outcome(*command: str | Path) -> tuple[bool, str]:
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    return done.returncode == 0, done.stdout + done.stderr


@pytest.mark.slow
def test_the_citation_is_valid(made: Path, tmp_path: Path) -> None:
    """By cffconvert, in an environment of its own: it pins an old jsonschema."""
    tool = validators(tmp_path / "env", "cffconvert==2.0.0", "setuptools<81") / "cffconvert"
    for package in ("cells", "weeks", "rows"):
        is_valid, said = outcome(tool, "--validate", "-i", made / package / "CITATION.cff")
        assert is_valid, said
        assert "valid according to schema version 1.2.0" in said
    faulty = tmp_path / "CITATION.cff"
    faulty.write_text((made / "cells" / "CITATION.cff").read_text().replace("dataset", "datasets"))
    assert not outcome(tool, "--validate", "-i", faulty)[0]


BY_THE_STANDARD = """
import json, sys
from pathlib import Path
import dplib, jsonschema

profiles = Path(dplib.__file__).parent / "profiles" / "2.0"

def faults(profile, content):
    schema = json.loads((profiles / f"{profile}.json").read_text())
    validator = jsonschema.validators.validator_for(schema)
    return [f"{e.json_path}: {e.message}" for e in validator(schema).iter_errors(content)]

package = json.loads(Path(sys.argv[1]).read_text())
found = faults("datapackage", package)
for resource in package["resources"]:
    found += faults("dataresource", resource)
    found += faults("tableschema", resource["schema"]) if "schema" in resource else []
sys.exit("\\n".join(found) if found else 0)
"""


@pytest.mark.slow
def test_the_package_is_valid_by_the_schemas_of_the_standard(made: Path, tmp_path: Path) -> None:
    """By the JSON Schemas of Data Package 2.0 (datapackage.org/profiles/2.0), as dplib ships them."""
    python = validators(tmp_path / "env", "dplib-py==1.1.0") / "python"
    for package in ("cells", "weeks", "rows"):
        path = made / package / "datapackage.json"
        is_valid, said = outcome(python, "-c", BY_THE_STANDARD, path)
        assert is_valid, said
    faulty = tmp_path / "datapackage.json"
    faulty.write_text(path.read_text().replace('"type": "integer"', '"type": "integr"'))
    is_valid, said = outcome(python, "-c", BY_THE_STANDARD, faulty)
    assert not is_valid
    assert "integr" in said
