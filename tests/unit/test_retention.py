"""Retention: what is older than the school keeps it goes, and nothing else."""

from datetime import UTC, datetime
from pathlib import Path

from pipeline.operate.retention import Removed, remove_old
from pipeline.settings import Keep
from pipeline.store import Warehouse

NOW = datetime(2026, 3, 31, 2, tzinfo=UTC)


def store(root: Path, *files: str) -> Warehouse:
    for name in files:
        path = root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("{}")
    return Warehouse(root)


def left(warehouse: Warehouse) -> set[str]:
    root = warehouse.root
    return {path.relative_to(root).as_posix() for path in root.rglob("*") if path.is_file()}


def test_without_a_setting_everything_is_kept(tmp_path: Path) -> None:
    warehouse = store(tmp_path, "runs/r20200101T020000Z.json", "quarantine/2020-01-01/logs/a.csv")
    before = left(warehouse)
    assert remove_old(warehouse, Keep(), NOW) == Removed(0, 0)
    assert left(warehouse) == before


def test_run_reports_go_when_they_are_older_than_that_to_the_second(tmp_path: Path) -> None:
    warehouse = store(
        tmp_path,
        "runs/r20260301T015959Z.json",
        "runs/r20260301T015959Z-2.json",
        "runs/r20260301T020000Z.json",
        "runs/r20260331T010000Z.json",
        "runs/levelhold.prom",
    )
    assert remove_old(warehouse, Keep(runs_days=30), NOW) == Removed(2, 0)
    assert left(warehouse) == {
        "runs/r20260301T020000Z.json",
        "runs/r20260331T010000Z.json",
        "runs/levelhold.prom",
    }


def test_the_newest_run_report_stays_however_old_it_is(tmp_path: Path) -> None:
    warehouse = store(tmp_path, "runs/r20200101T020000Z.json", "runs/r20200101T020000Z-2.json")
    assert remove_old(warehouse, Keep(runs_days=1), NOW) == Removed(1, 0)
    assert left(warehouse) == {"runs/r20200101T020000Z-2.json"}


def test_copies_go_by_the_day_in_quarantine_but_not_those_still_refused(tmp_path: Path) -> None:
    old, day = "quarantine/2026-02-28/logs", "quarantine/2026-03-01/logs"
    warehouse = store(
        tmp_path,
        f"{old}/a.csv",
        f"{old}/a.csv.reason.json",
        f"{old}/b.csv",
        f"{old}/b.csv.reason.json",
        f"{day}/c.csv",
        "quarantine/2026-02-27/roster.csv",
        "quarantine/notes/read_me.txt",
    )
    removed = remove_old(warehouse, Keep(quarantine_days=30), NOW, {f"{old}/b.csv"})
    assert removed == Removed(0, 3)
    assert left(warehouse) == {
        f"{old}/b.csv",
        f"{old}/b.csv.reason.json",
        f"{day}/c.csv",
        "quarantine/notes/read_me.txt",
    }
    assert not (tmp_path / "quarantine" / "2026-02-27").exists()
