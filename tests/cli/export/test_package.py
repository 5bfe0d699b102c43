"""An export stands alone: valid, explained, and naming nobody."""

import csv
import hashlib
import json
import shutil
from pathlib import Path

import frictionless
import polars as pl
import pyarrow.parquet as pq
import pytest

from tests.cli.export.conftest import IDENTIFIERS, described, read, tables
from tests.larger_school import COHORTS


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
