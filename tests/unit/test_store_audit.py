"""`audit_store` finds every damage that is planted in a store, names the file and says how to mend it."""

import shutil
from collections.abc import Callable
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from pipeline.errors import StoreDamaged
from pipeline.measure import measure_warehouse
from pipeline.measure.audit import audit_measures
from pipeline.reports import Finding
from pipeline.store import audit_store, read_metadata, write_parquet
from tests.inboxes import TASKS, School, log_text, school_with
from tests.stores import SETTINGS


def _store(tmp_path: Path) -> School:
    """Two committed batches: S1 with tasks, then S2."""
    school = school_with(tmp_path, "S1")
    school.put("tasks/S1.csv", TASKS)
    school.night()
    school.sessions(
        *[f"{s},TH01,2026-03-15T09:00:00Z,,,,\n" for s in ("S2", "S3")],
    )
    school.put("logs/S2.csv", log_text())
    school.night()
    return school


def _only(school: School) -> Finding:
    (finding,) = audit_store(school.store)
    assert finding.mend
    assert finding.sentence.startswith(finding.file)
    return finding


def test_a_sound_store_has_no_finding(tmp_path: Path) -> None:
    assert audit_store(_store(tmp_path).store) == []


def test_an_empty_store_has_no_finding(tmp_path: Path) -> None:
    assert audit_store(School(tmp_path).store) == []


def _batch_files(school: School, kind: str) -> list[Path]:
    store = school.store
    return list(store.sample_files() if kind == "samples" else store.table_files(kind))


def _flip(path: Path, at: int) -> None:
    content = bytearray(path.read_bytes())
    content[at] ^= 1
    path.write_bytes(content)


@pytest.mark.parametrize("kind", ["samples", "sessions", "tasks", "roster"])
def test_a_flipped_byte_anywhere_is_found(tmp_path: Path, kind: str) -> None:
    school = _store(tmp_path)
    path = _batch_files(school, kind)[0]
    whole = path.read_bytes()
    for at in {
        0,
        5,
        len(whole) // 3,
        len(whole) // 2,
        len(whole) - 300,
        len(whole) - 9,
        len(whole) - 1,
    }:
        _flip(path, at)
        found = _only(school)
        assert (found.check, found.file) == (
            "changed",
            path.relative_to(school.store.root).as_posix(),
        )
        path.write_bytes(whole)
    assert audit_store(school.store) == []


@pytest.mark.parametrize("kind", ["samples", "sessions", "tasks", "roster"])
def test_a_truncated_file_is_found(tmp_path: Path, kind: str) -> None:
    school = _store(tmp_path)
    path = _batch_files(school, kind)[0]
    path.write_bytes(path.read_bytes()[:-20])
    found = _only(school)
    assert found.check == "changed"
    assert "cut off or damaged" in found.sentence
    assert "restore it from a backup" in found.mend


@pytest.mark.parametrize("kind", ["samples", "tasks", "roster"])
def test_a_missing_file_is_found(tmp_path: Path, kind: str) -> None:
    school = _store(tmp_path)
    _batch_files(school, kind)[0].unlink()
    assert _only(school).check == "missing"


def test_a_missing_sessions_file_is_found_and_stops_the_next_run_before_it_sweeps(
    tmp_path: Path,
) -> None:
    school = _store(tmp_path)
    lost = school.store.table_files("sessions")[0]
    aside = lost.read_bytes()
    lost.unlink()
    assert _only(school).check == "missing"
    before = school.content()
    with pytest.raises(StoreDamaged, match=lost.name):
        school.night()
    assert school.content() == before
    lost.write_bytes(aside)
    assert audit_store(school.store) == []


def test_a_batch_given_up_lands_again_from_the_inbox(tmp_path: Path) -> None:
    school = school_with(tmp_path, "S1")
    school.night()
    school.store.table_files("sessions")[0].unlink()
    next(school.store.sessions.glob("*.sha256")).unlink()
    report = school.night()
    assert [landed.session_id for landed in report.landed] == ["S1"]
    assert report.swept_files == 2
    assert audit_store(school.store) == []


def _stray_note(school: School) -> Path:
    path = school.store.root / "tasks/notes.txt"
    path.write_text("hello")
    return path


def _stray_samples_of_a_committed_batch(school: School) -> Path:
    source = school.store.sample_files()[0]
    target = source.parent.with_name("session_date=2026-03-20") / source.name
    target.parent.mkdir()
    shutil.copy(source, target)
    return target


def _stray_uncommitted_samples(school: School) -> Path:
    source = school.store.sample_files()[0]
    return Path(shutil.copy(source, source.with_name("b20990101T000000Z-abcdef.parquet")))


def _half_written(school: School) -> Path:
    path = school.store.sessions / ".b20990101T000000Z-abcdef.parquet.part"
    path.write_bytes(b"half")
    return path


@pytest.mark.parametrize(
    "plant",
    [_stray_note, _stray_samples_of_a_committed_batch, _stray_uncommitted_samples, _half_written],
)
def test_a_stray_file_is_found(tmp_path: Path, plant: Callable[[School], Path]) -> None:
    school = _store(tmp_path)
    path = plant(school)
    found = _only(school)
    assert found.check == "stray"
    assert found.file == path.relative_to(school.store.root).as_posix()


def test_a_session_in_two_files_without_a_revision_is_found(tmp_path: Path) -> None:
    school = _store(tmp_path)
    source = school.store.table_files("sessions")[1]
    copy = source.with_name("b20990101T000000Z-abcdef.parquet")
    shutil.copy(source, copy)
    found = {finding.check: finding for finding in audit_store(school.store)}
    assert found.keys() == {"session_twice"}
    assert "revision 1 of session S2 is also in batch" in found["session_twice"].sentence


def test_a_batch_without_its_seal_is_found_unless_it_is_the_newest(tmp_path: Path) -> None:
    school = _store(tmp_path)
    first, second = sorted(school.store.sessions.glob("*.sha256"))
    second.unlink()
    assert audit_store(school.store) == []
    school.night()
    assert second.exists()
    first.unlink()
    assert _only(school).check == "unsealed"


def test_damaged_measures_and_reviews_are_found(tmp_path: Path) -> None:
    school = _store(tmp_path)
    table = pa.table({"x": [float(i) for i in range(1000)]})
    derived = school.store.measures / "d1" / "maneuvers" / "b1.parquet"
    review = school.store.reviews / "r1.parquet"
    for path in (derived, review):
        write_parquet(table, path, {"kind": "other"})
    assert audit_store(school.store) == []
    _flip(derived, 200)
    _flip(review, 200)
    mends = {finding.file: finding.mend for finding in audit_store(school.store)}
    assert mends == {
        "measures/d1/maneuvers/b1.parquet": "delete it; `levelhold score` computes it again",
        "reviews/r1.parquet": "restore it from a backup",
    }


def _outdated_measures(school: School) -> Path:
    """Kept figures that say they were made of something else."""
    measure_warehouse(school.store, SETTINGS)
    path = next(school.store.measures.glob("*/channel_sums/*/*.parquet"))
    table = pq.read_table(path, partitioning=None)
    write_parquet(table, path, read_metadata(path) | {"fingerprint": "of other samples"})
    return path


def test_measures_of_a_wrong_fingerprint_are_found_and_scoring_mends_them(tmp_path: Path) -> None:
    school = _store(tmp_path)
    assert audit_measures(school.store, SETTINGS) == []
    path = _outdated_measures(school)
    (found,) = audit_measures(school.store, SETTINGS)
    assert (found.check, found.file) == (
        "outdated",
        path.relative_to(school.store.root).as_posix(),
    )
    assert "`levelhold score`" in found.mend
    measure_warehouse(school.store, SETTINGS)
    assert audit_measures(school.store, SETTINGS) == []


def _stray_measures(school: School) -> str:
    path = school.store.measures / "d" / "maneuvers" / "session_date=2026-03-14"
    write_parquet(pa.table({"x": [1.0]}), path / "b20990101T000000Z-abcdef.parquet", {})
    return "stray"


def _unfinished_change(school: School) -> str:
    (school.store.change_folder).mkdir()
    (school.store.change_folder / "record.json").write_text('{"put": [], "remove": []}')
    return "unfinished"


def _list_of_replaced_without_a_batch(school: School) -> str:
    (school.store.sessions / "b20990101T000000Z-abcdef.replaces").write_text("b1")
    return "stray"


def _lost_key_of_the_forgotten(school: School) -> str:
    school.store.forgotten.mkdir()
    (school.store.forgotten / "f1.json").write_text('{"hashes": []}')
    return "unreadable"


def _damaged_release(school: School) -> str:
    path = school.store.releases / "r1.parquet"
    write_parquet(pa.table({"x": [float(i) for i in range(1000)]}), path, {})
    _flip(path, 200)
    return "unreadable"


@pytest.mark.parametrize(
    "plant",
    [
        _stray_measures,
        _unfinished_change,
        _list_of_replaced_without_a_batch,
        _lost_key_of_the_forgotten,
        _damaged_release,
    ],
)
def test_other_damage_is_found_with_its_mend(
    tmp_path: Path, plant: Callable[[School], str]
) -> None:
    school = _store(tmp_path)
    check = plant(school)
    (found,) = audit_store(school.store)
    assert found.check == check
    assert found.mend


@pytest.mark.parametrize(
    "plant", [_stray_measures, _list_of_replaced_without_a_batch, _half_written]
)
def test_what_a_run_left_is_removed_by_the_next_one(
    tmp_path: Path, plant: Callable[[School], object]
) -> None:
    school = _store(tmp_path)
    plant(school)
    assert school.night().swept_files == 1
    assert audit_store(school.store) == []
