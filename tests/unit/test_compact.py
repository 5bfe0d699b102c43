"""Compacting: fewer, larger batches, and every relation as before to the last bit."""

import shutil
import subprocess
import sys
from datetime import timedelta
from pathlib import Path

import pytest

from pipeline.errors import StoreDamaged, UsageError
from pipeline.export.past import store_as_of
from pipeline.land.known import read_known
from pipeline.measure import measure_warehouse
from pipeline.measure.audit import audit_measures
from pipeline.reading import open_warehouse
from pipeline.store import Warehouse, audit_store, compact, hold_lock, read_metadata, sweep
from tests.inboxes import NOW, School, log_text, session_line
from tests.stores import SETTINGS, all_relations, busy_school, kept_rows, measured


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    root = tmp_path_factory.mktemp("made")
    measured(busy_school(root))
    return root


@pytest.fixture
def school(made: Path, tmp_path: Path) -> School:
    shutil.copytree(made, tmp_path / "own")
    return School(tmp_path / "own")


def test_all_that_is_stored_and_measured_says_the_same_before_and_after(school: School) -> None:
    store = school.store
    before = kept_rows(store)
    assert len(before["maneuver_windows"]) == 8
    assert len(before["samples"]) == 4 * 360
    (batch,) = compact(store, 64)
    assert len(batch.replaces) == 4
    assert store.committed_batches() == (batch.batch_id,)
    assert len(store.sample_files()) == 2
    assert kept_rows(store) == before
    report = measure_warehouse(store, SETTINGS)
    assert {unit.unit.partition("/")[2] for unit in report.units} == {batch.batch_id}
    assert audit_store(store) == []
    assert audit_measures(store, SETTINGS) == []
    sweep(store)
    assert {p.stem for p in store.root.rglob("b*.*")} == {batch.batch_id}
    assert kept_rows(store) == before
    assert audit_store(store) == []


@pytest.mark.slow
def test_every_relation_says_the_same_before_and_after(school: School) -> None:
    before = all_relations(school.store)
    assert len(before["maneuvers"]) == len(before["altitude_hold"]) == 8
    compact(school.store, 64)
    assert all_relations(school.store) == before
    measured(school)
    sweep(school.store)
    assert all_relations(school.store) == before


def test_after_compacting_the_inbox_brings_nothing_new(school: School) -> None:
    known = read_known(school.store).sessions
    compact(school.store, 64)
    report = school.night(NOW + timedelta(days=9))
    assert (report.batch_id, report.already_landed) == (None, 4)
    now_known = read_known(school.store).sessions
    assert {s: k.row for s, k in now_known.items()} == {s: k.row for s, k in known.items()}
    school.sessions(session_line("A1", "TH02"))
    again = school.night(NOW + timedelta(days=10))
    assert [(s.session_id, s.revision, s.changed) for s in again.landed] == [("A1", 2, ("row",))]


def test_a_later_batch_still_wins_over_a_compacted_one(school: School) -> None:
    (batch,) = compact(school.store, 64)
    school.put("roster.csv", "student_id,cohort,start_date\nTH01,2026B,2026-02-01\n")
    later = school.night(NOW + timedelta(days=5))
    assert later.batch_id is not None
    assert later.batch_id > batch.batch_id
    assert read_known(school.store).students["TH01"].cohort == "2026B"
    con = open_warehouse(school.store, SETTINGS, ["students"])
    rows = con.execute("SELECT student_id, cohort FROM students").fetchall()
    assert dict(rows) == {"TH01": "2026B", "TH02": "2026A"}


def test_batches_stay_below_the_size_asked_for(school: School) -> None:
    store = school.store
    ids = store.committed_batches()
    largest = max(size_of(store, batch_id) for batch_id in ids)
    merged = compact(store, 2 * largest / 1_000_000)
    assert [batch.replaces for batch in merged] == [ids[:2], ids[2:]]
    assert compact(store, 0.001) == ()


def size_of(store: Warehouse, batch_id: str) -> int:
    """The bytes of a batch but for its measures."""
    files = (p for p in store.root.rglob(f"{batch_id}.parquet") if "measures" not in p.parts)
    return sum(p.stat().st_size for p in files)


def test_a_revision_is_never_merged_into_the_file_of_the_revision_before(school: School) -> None:
    school.put("logs/A1.csv", log_text(360))
    school.night(NOW + timedelta(days=5))
    before = kept_rows(measured(school).store)
    compact(school.store, 64)
    assert len(school.store.committed_batches()) == 2
    measured(school)
    assert kept_rows(school.store) == before
    assert audit_store(school.store) == []


def test_compacting_twice_changes_nothing(school: School) -> None:
    assert len(compact(school.store, 64)) == 1
    content = school.content()
    assert compact(school.store, 64) == ()
    kept = {name for name in content if ".replaces" not in name}
    assert set(school.content()) < kept


def test_a_damaged_batch_is_not_merged_and_nothing_changes(school: School) -> None:
    path = school.store.sample_files()[0]
    content = bytearray(path.read_bytes())
    content[len(content) // 2] ^= 1
    path.write_bytes(content)
    before = school.content()
    with pytest.raises(StoreDamaged, match="levelhold check"):
        compact(school.store, 64)
    assert school.content() == before


def test_what_a_killed_compaction_left_is_swept(school: School) -> None:
    store = school.store
    before = kept_rows(store)
    content = school.content()
    (batch,) = compact(store, 64)
    # As if killed right before the commit: the list is there, the sessions file is not.
    store.table_path("sessions", batch.batch_id).unlink()
    store.seal_path(batch.batch_id).unlink()
    assert kept_rows(store) == before
    with hold_lock(store, "nightly", NOW):
        sweep(store)
    assert school.content() == content


def test_a_batch_merged_twice_still_tells_which_batches_once_landed(school: School) -> None:
    store = school.store
    landed = store.committed_batches()
    largest = max(size_of(store, batch_id) for batch_id in landed)
    first, second = compact(store, 2 * largest / 1_000_000)
    (batch,) = compact(store, 64)
    told = read_metadata(store.table_path("sessions", batch.batch_id))
    assert told["replaces"] == list(landed)
    assert told["merged"] == {
        first.batch_id: list(landed[:2]),
        second.batch_id: list(landed[2:]),
    }
    for known in (landed, (first.batch_id, *landed[2:]), (batch.batch_id,)):
        assert store_as_of(store, known, ()).committed_batches() == (batch.batch_id,)
    with pytest.raises(UsageError, match="cannot be made again from here"):
        store_as_of(store, landed[:3], ())


READ = """
import sys
from pathlib import Path
from pipeline.reading import open_warehouse
from pipeline.settings import Settings
from pipeline.store import Warehouse
con = open_warehouse(Warehouse(Path(sys.argv[1])), Settings(), ["samples"])
print("open", flush=True)
sys.stdin.read()
print(con.execute("SELECT COUNT(*) FROM samples").fetchall())
"""


def test_while_somebody_reads_what_was_replaced_is_left_to_a_later_run(school: School) -> None:
    store = school.store
    with subprocess.Popen(
        [sys.executable, "-c", READ, str(store.root)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        cwd=Path(__file__).parents[2],
    ) as reader:
        assert reader.stdout is not None
        assert reader.stdout.readline() == "open\n"
        largest = max(size_of(store, batch_id) for batch_id in store.committed_batches())
        compact(store, 2 * largest / 1_000_000)
        assert sweep(store) == ()
        (batch,) = compact(store, 64)
        assert store.committed_batches() == (batch.batch_id,)
        assert sweep(store) == ()
        assert len(list(store.sessions.glob("*.parquet"))) == 7
        assert school.night(NOW + timedelta(days=6)).already_landed == 4
        out, _ = reader.communicate("")
    assert out == f"[({4 * 360},)]\n"
    assert audit_store(store) == []
    assert len(sweep(store)) > 20
    assert len(list(store.sessions.iterdir())) == 2
    assert audit_store(store) == []
