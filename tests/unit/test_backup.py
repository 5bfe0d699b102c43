"""Backups: a proven copy that is a store of its own, and the way back."""

import shutil
from datetime import timedelta
from pathlib import Path

import pytest

from pipeline import trend
from pipeline.errors import StoreDamaged, UsageError
from pipeline.store import Warehouse, audit_store, back_up
from tests.inboxes import NOW, School
from tests.stores import SETTINGS, busy_school, kept_rows, measured


@pytest.fixture
def school(tmp_path: Path) -> School:
    """Two nights, one refusal in quarantine."""
    school = busy_school(tmp_path / "school", nights=2)
    school.put("logs/C1.csv", "broken")
    with (school.inbox / "sessions.csv").open("a") as file:
        file.write("C1,TH01,2026-03-14T11:00:00Z,,,,\n")
    school.night(NOW + timedelta(days=5))
    return school


def test_a_backup_restored_is_the_same_store_and_measures_alike(
    school: School, tmp_path: Path
) -> None:
    report = back_up(school.store, tmp_path / "backup")
    assert report.files == sum(p.is_file() for p in report.folder.rglob("*"))
    shutil.rmtree(school.store.root)
    restored = back_up(Warehouse(tmp_path / "backup"), school.store.root)
    assert restored.size_bytes == report.size_bytes
    assert audit_store(school.store) == []
    assert school.night(NOW + timedelta(days=6)).already_landed == 2
    again = kept_rows(measured(school).store)
    assert len(again["maneuver_windows"]) == 4
    whole = measured(busy_school(tmp_path / "whole", nights=2))
    assert again == kept_rows(whole.store)


def test_measures_pages_and_locks_are_left_out(school: School, tmp_path: Path) -> None:
    for folder in (school.store.measures / "d", school.store.pages):
        folder.mkdir(parents=True)
        (folder / "x").write_text("derived")
    folder = back_up(school.store, tmp_path / "backup").folder
    assert sorted(p.name for p in folder.iterdir()) == [
        "inbox_memory.json",
        "quarantine",
        "roster",
        "samples",
        "sessions",
        "tasks",
    ]


def test_all_that_the_school_wrote_or_that_cannot_be_derived_comes_back_byte_for_byte(
    school: School, tmp_path: Path
) -> None:
    root = school.store.root
    trend.withdraw(school.store, SETTINGS, "A1", "wrong log", NOW)
    written = {
        "school.toml": b"[stages]\r\nfirst-solo = 'solo'\r\n",
        "profiles/ours.toml": "# grün\n".encode("latin-1"),
        "profiles/notes/read.me": bytes(range(256)),
        "releases/2026-03/record.json": b"{}",
        "releases/register.json": b'{"x": 1}',
        "forgotten/key": bytes(32),
        "runs/r20260328T020000Z.json": b"{}",
        "runs/levelhold.prom": b"# EOF\n",
    }
    for name, content in written.items():
        (root / name).parent.mkdir(parents=True, exist_ok=True)
        (root / name).write_bytes(content)
    kept = {p: p.read_bytes() for p in root.rglob("*") if p.is_file() and p.name[0] != "."}
    back_up(school.store, tmp_path / "backup")
    shutil.rmtree(root)
    back_up(Warehouse(tmp_path / "backup"), root)
    assert {p: p.read_bytes() for p in root.rglob("*") if p.is_file()} == kept
    assert {str(p.relative_to(root)) for p in kept} > set(written)
    parts = {p.relative_to(root).parts[0] for p in kept}
    assert parts > {"reviews", "quarantine", "samples", "sessions", "tasks", "roster"}


def test_a_damaged_store_is_not_copied_and_nothing_is_left(school: School, tmp_path: Path) -> None:
    path = school.store.sample_files()[0]
    path.write_bytes(path.read_bytes()[:-9])
    with pytest.raises(StoreDamaged, match=f"{path.name}.*nothing was copied"):
        back_up(school.store, tmp_path / "backup")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["school"]


def test_a_folder_with_something_in_it_is_refused(school: School, tmp_path: Path) -> None:
    (tmp_path / "backup").mkdir()
    (tmp_path / "backup" / "letter.txt").write_text("mine")
    with pytest.raises(UsageError, match="something in it"):
        back_up(school.store, tmp_path / "backup")
    with pytest.raises(UsageError, match="lies within the store"):
        back_up(school.store, school.store.root / "copy")
    assert (tmp_path / "backup" / "letter.txt").read_text() == "mine"
