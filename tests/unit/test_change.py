"""A change of many files is made real by one record, and finished by whoever holds the lock next."""

from pathlib import Path

import pytest

from pipeline.errors import StoreDamaged
from pipeline.store import Change, Warehouse, audit_store, hold_lock
from pipeline.store.change import is_unfinished
from tests.inboxes import NOW


def store_of(tmp_path: Path) -> Warehouse:
    store = Warehouse(tmp_path)
    for name in ("a", "b", "c"):
        (tmp_path / f"{name}.json").write_text("old")
    (tmp_path / "pages").mkdir()
    (tmp_path / "pages" / "index.html").write_text("old")
    return store


def files(store: Warehouse) -> dict[str, str]:
    """Every file but the lock's, with its content."""
    found = (p for p in store.root.rglob("*") if p.is_file() and not p.name.startswith(".lock"))
    return {p.relative_to(store.root).as_posix(): p.read_text() for p in found}


def prepare(store: Warehouse, change: Change) -> None:
    change.put_bytes(b"new", store.root / "a.json")
    change.put_bytes(b"new", store.root / "runs" / "d.json")
    change.remove(store.root / "b.json")
    change.remove(store.pages)


CHANGED = {"a.json": "new", "c.json": "old", "runs/d.json": "new"}


def test_a_change_puts_and_removes_what_was_prepared(tmp_path: Path) -> None:
    store = store_of(tmp_path)
    with Change(store) as change:
        prepare(store, change)
        change.commit()
    assert files(store) == CHANGED
    assert not store.change_folder.exists()
    assert change.put_files == ("a.json", "runs/d.json")
    assert change.removed_files == ("b.json", "pages")


def test_without_a_commit_nothing_changes(tmp_path: Path) -> None:
    store = store_of(tmp_path)
    before = files(store)
    with Change(store) as change:
        prepare(store, change)
    assert files(store) == before


def cut_short(store: Warehouse) -> None:
    """As a kill leaves it: the record is there, and one file is in place."""
    with Change(store) as change:
        prepare(store, change)
        new = store.change_folder / "new" / "a.json"
        content = new.read_bytes()
        change.commit()
    record = store.change_folder / "record.json"
    record.parent.mkdir()
    record.write_text('{"put": ["a.json"], "remove": ["b.json"]}')
    (store.root / "b.json").write_text("old")
    assert content == b"new"


def test_a_change_that_was_cut_short_is_finished_by_the_next_holder_of_the_lock(
    tmp_path: Path,
) -> None:
    store = store_of(tmp_path)
    cut_short(store)
    assert is_unfinished(store)
    (finding,) = audit_store(store)
    assert (finding.check, finding.mend) == ("unfinished", "the next run finishes it")
    with hold_lock(store, "review", NOW):
        assert files(store) == CHANGED
    assert audit_store(store) == []


def test_a_change_that_lost_a_file_is_damage_and_is_not_forgotten(tmp_path: Path) -> None:
    store = store_of(tmp_path)
    cut_short(store)
    (store.root / "a.json").unlink()
    with pytest.raises(StoreDamaged, match=r"a\.json"), hold_lock(store, "review", NOW):
        pass
    assert is_unfinished(store)
