"""Forgetting a student: gone from every file, proven, not brought back, and nobody else's data touched."""

import gzip
import json
import shutil
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pyarrow.parquet as pq
import pytest

from pipeline import trend
from pipeline.errors import StoreDamaged, UsageError
from pipeline.export.disclosure import Cell, Contribution
from pipeline.export.register import Release, read_release, write_release
from pipeline.land.forget import ForgetReport, forget_student
from pipeline.land.mentions import Named, files_that_name
from pipeline.store import audit_store, read_forgotten, write_bytes
from tests.inboxes import NOW, ROSTER, School, log_text, session_line
from tests.stores import SETTINGS, Rows, busy_school, kept_rows, measured

LATER = NOW + timedelta(days=8)
GONE = Named("TH01", frozenset({"A1", "C1", "E1", "F1"}))
"""TH01 with the sessions that landed (A1, C1), was refused (E1) and was flown under another's code (F1)."""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A school in which TH01 has left traces in every kind of file."""
    root = tmp_path_factory.mktemp("made")
    school = busy_school(root)
    lines = (school.inbox / "sessions.csv").read_text().splitlines(keepends=True)[1:]
    more = [session_line("E1", "TH01"), session_line("F1", "TH02"), session_line("G1", "TH01")]
    school.sessions(*lines, *more, "bad row\n")
    school.put("roster.csv", f"{ROSTER}TH09,2026A,not a date,\n")
    school.put("logs/E1.csv", "broken, by TH01\n")
    school.put("logs/F1.csv", log_text(80))
    school.put("logs/G1.csv", log_text(90))
    school.night(NOW + timedelta(days=5))
    store = school.store
    measured(school)
    trend.reassign(store, SETTINGS, "F1", "TH01", "was flown by another", NOW)
    trend.reassign(store, SETTINGS, "G1", "TH02", "not by TH01", NOW)
    trend.acknowledge(store, SETTINGS, "TH01", None, "seen", NOW)
    trend.acknowledge(store, SETTINGS, "TH02", None, "flown together with TH01, seen", NOW)
    trend.set_aside(store, SETTINGS, "A1.1.01", "traffic", NOW)
    parts = frozenset({Contribution("TH01", "d1"), Contribution("TH02", "d2")})
    write_release(
        store,
        Release("r20260401-1", (Cell("c", None, parts),), rows=frozenset({("TH01", "A1")})),
    )
    told = {
        "landed": [{"session_id": "A1"}, {"session_id": "B1"}],
        "warnings": ["session C1: odd", "session D1: odd"],
        "flags": [{"student_id": "TH01", "reason": "wide"}],
        "note": "for TH01 and TH02",
    }
    write_bytes(json.dumps(told).encode(), store.runs / "r1.json")
    write_bytes(b"<p>TH01</p>", store.pages / "students" / "TH01.html")
    write_bytes(gzip.compress(b"by TH01"), store.quarantine / "2026-03-01" / "logs" / "Z.csv.gz")
    return root


@pytest.fixture
def school(made: Path, tmp_path: Path) -> School:
    shutil.copytree(made, tmp_path / "own")
    return School(tmp_path / "own")


def forget(school: School, student_id: str = "TH01", *, is_trial: bool = False) -> ForgetReport:
    return forget_student(
        school.store, SETTINGS, student_id, LATER, inbox=school.inbox, is_trial=is_trial
    )


def kinds(paths: tuple[str, ...] | list[str]) -> set[str]:
    """The folders, or files of the store itself, that paths lie in."""
    return {path.partition("/")[0] for path in paths}


def others(rows: Rows) -> Rows:
    """Rows of all but TH01, without what may change: revisions' hashes and who a session was booked for."""
    names = GONE.session_ids | {"TH01"}
    return {
        n: [r for r in rows_ if not names & {str(v).partition(".")[0] for v in r}]
        for n, rows_ in rows.items()
        if n not in ("sessions", "reviews")
    }


def test_before_every_kind_of_file_names_the_student(school: School) -> None:
    assert kinds(list(files_that_name(school.store, GONE))) == {
        "samples",
        "sessions",
        "tasks",
        "roster",
        "reviews",
        "measures",
        "releases",
        "runs",
        "pages",
        "quarantine",
        "inbox_memory.json",
    }


def test_afterwards_no_file_names_the_student_and_the_others_are_as_before(school: School) -> None:
    before = kept_rows(school.store)
    report = forget(school)
    assert (report.session_count, report.still_named_in, report.is_done) == (3, (), True)
    assert list(files_that_name(school.store, GONE)) == []
    assert audit_store(school.store) == []
    after = kept_rows(school.store)
    assert after | others(after) == after
    assert others(before) == others(after)
    assert len(after["samples"]) == 360 * 2 + 90
    sessions = {row["session_id"]: row["student_id"] for row in school.rows("sessions")}
    assert sessions == {"B1": "TH02", "D1": "TH02", "G1": "TH02"}
    assert not school.store.pages.exists()
    assert not (school.store.root / ".change").exists()


def test_other_files_keep_what_is_not_the_students(school: School) -> None:
    forget(school)
    told = json.loads((school.store.runs / "r1.json").read_text())
    assert told == {
        "landed": [{"session_id": "B1"}],
        "warnings": ["session D1: odd"],
        "flags": [],
        "note": "for (forgotten) and TH02",
    }
    notes = [
        row["note"]
        for path in school.store.table_files("reviews")
        for row in pq.read_table(path).to_pylist()
    ]
    assert sorted(notes) == ["flown together with (forgotten), seen", "not by (forgotten)"]
    rosters = list(school.store.quarantine.rglob("roster.csv"))
    assert [p.read_text() for p in rosters] == [
        "student_id,cohort,start_date,stage\nTH02,2026A,2026-02-01,\nTH09,2026A,not a date,\n"
    ]


def test_a_record_of_an_export_still_tells_how_many_were_in_a_cell(school: School) -> None:
    forget(school)
    (cell,) = read_release(school.store, "r20260401-1").cells
    assert {part.digest for part in cell.contributions} == {"d1", "d2"}
    assert "TH01" not in {part.student_id for part in cell.contributions}


def test_the_inbox_does_not_bring_the_student_back(school: School) -> None:
    forget(school)
    school.put("logs/A1.csv", log_text(200))
    school.put("roster.csv", f"{ROSTER}TH08,2026A,another bad date,\n")
    lines = (school.inbox / "sessions.csv").read_text().splitlines(keepends=True)[1:]
    school.sessions(*lines, session_line("H1", "TH01"), session_line("I1", "TH02"))
    school.put("logs/H1.csv", log_text(200))
    school.put("logs/I1.csv", log_text(200))
    school.put("tasks/H1.csv", "broken, by TH01")
    report = school.night(LATER)
    assert [s.session_id for s in report.landed] == ["I1"]
    assert report.waiting == ()
    assert any("forgotten students or sessions were passed over" in w for w in report.warnings)
    named = replace(GONE, session_ids=GONE.session_ids | {"H1"})
    assert list(files_that_name(school.store, named)) == []
    again = school.night(LATER + timedelta(days=1))
    assert (again.landed, again.already_landed) == ((), 4)


def test_a_trial_changes_nothing(school: School) -> None:
    before = school.content()
    report = forget(school, is_trial=True)
    assert not report.is_done
    assert report.session_count == 3
    assert "samples" in kinds(report.rewritten)
    assert {k: v for k, v in school.content().items() if ".lock" not in k} == before


def test_forgetting_twice_is_proven_again_and_an_unknown_student_is_wrong_usage(
    school: School,
) -> None:
    forget(school)
    content = school.content()
    again = forget(school)
    assert (again.session_count, again.rewritten, again.is_done) == (0, (), True)
    assert school.content() == content
    with pytest.raises(UsageError, match=r"no student 'TH03' .* did you mean TH02\?"):
        forget(school, "TH03")


def test_both_students_can_be_forgotten_and_the_store_is_sound(school: School) -> None:
    forget(school, "TH01")
    forget(school, "TH02")
    assert [p.stat().st_size > 0 for p in school.store.sample_files()] == []
    assert school.rows("sessions") == []
    assert audit_store(school.store) == []
    known = read_forgotten(school.store)
    assert known.holds("student", "TH01")
    assert known.holds("session", "B1")
    assert not known.holds("student", "TH03")
    assert school.night(LATER).landed == ()


def test_a_damaged_batch_is_not_sealed_anew(school: School) -> None:
    path = next(p for p in school.store.sample_files() if "2026-03-14" in str(p))
    content = bytearray(path.read_bytes())
    content[len(content) // 2] ^= 1
    path.write_bytes(content)
    before = school.content()
    with pytest.raises(StoreDamaged):
        forget(school)
    assert school.content() == before


def test_names_are_whole_words() -> None:
    named = Named("TH1", frozenset({"S.1", "7"}))
    assert named.student_in("by TH1, alone")
    assert not named.student_in("TH10, XTH1, TH1-2 and TH1_b")
    assert named.is_session("S.1.2.03")
    assert named.is_session("logs/7.csv.gz")
    assert not named.is_session("S.1.2")
    assert not named.is_session(None)
    assert named.redacted("7 of 77 by TH1") == "(forgotten) of 77 by (forgotten)"
