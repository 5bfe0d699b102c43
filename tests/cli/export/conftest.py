"""Exports of a generated larger school, made once for all the tests that look at them."""

import json
import re
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import polars as pl
import pytest

from pipeline.cli import main
from tests.larger_school import write_larger_school, write_roster
from tests.made_once import made_once

IDENTIFIERS = re.compile(rb"LS\d\d|SIM-\d|INS-\d|grey goose|brown cow|2026-0[12]-")
"""Students, devices, instructors, the aircraft type, the lesson and session dates of the school."""


def leave(*arguments: object) -> int:
    with pytest.raises(SystemExit) as leaving:
        main([str(argument) for argument in arguments])
    return int(leaving.value.code or 0)


@pytest.fixture(scope="session")
def larger(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The warehouse of a generated larger school, measured; tests only read it."""
    return made_once(tmp_path_factory, "larger-school", _measure_school) / "warehouse"


def _measure_school(folder: Path) -> None:
    inbox, warehouse = write_larger_school(folder / "inbox"), folder / "warehouse"
    assert leave("ingest", "--quiet", "--inbox", inbox, "--warehouse", warehouse) == 0
    assert leave("score", "--quiet", "--warehouse", warehouse, "--workers", 1) == 0


@pytest.fixture(scope="session")
def made(larger: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with `warehouse`, the exports `cells`, `rows` and (linked to these) `weeks` made
    from it one after the other, `keys.json`; tests only read it.
    """
    return made_once(tmp_path_factory, "exports", lambda folder: _export(larger, folder))


def _export(larger: Path, folder: Path) -> None:
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


def outcome(*command: str | Path) -> tuple[bool, str]:
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    return done.returncode == 0, done.stdout + done.stderr


@pytest.fixture
def asked_for_consent(copy: Path, tmp_path: Path) -> Path:
    """The same school after its students were asked: five said no, three said nothing."""
    write_roster(tmp_path / "inbox", with_consent=True)
    arguments = ("--inbox", tmp_path / "inbox", "--warehouse", copy)
    leave("ingest", "--quiet", *arguments)
    return copy
