"""Roster, sessions, devices and tasks; what waits, what comes again, what is corrected."""

import json
import os
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from pipeline.errors import UsageError
from pipeline.land import land_inbox
from pipeline.reports import LandReport
from pipeline.settings import Settings
from tests.inboxes import (
    NOW,
    ROSTER,
    SESSION_HEADING,
    TASKS,
    School,
    gates_of,
    log_text,
    rules_of,
    school_with,
    session_line,
)


def _waits(report: LandReport) -> list[tuple[str, str]]:
    return [(waiting.what, waiting.name) for waiting in report.waiting]


def _landed(report: LandReport) -> list[tuple[str, int, tuple[str, ...]]]:
    return [(landed.session_id, landed.revision, landed.changed) for landed in report.landed]


def test_a_missing_inbox_is_wrong_usage(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="no such inbox"):
        School(tmp_path).night()


def test_a_second_night_changes_nothing(tmp_path: Path) -> None:
    school = school_with(tmp_path, "S1", "S2")
    school.put("logs/S2.csv", "broken")
    first = school.night()
    before = school.content()
    memory = school.store.memory_file.stat().st_mtime_ns
    second = school.night(NOW + timedelta(days=1))
    assert first.batch_id is not None
    assert second.batch_id is None
    assert (second.already_landed, second.landed) == (1, ())
    assert len(second.refusals) == 1
    assert second.new_refusals == ()
    assert second.refusals[0].reasons == first.refusals[0].reasons
    assert school.content() == before
    assert school.store.memory_file.stat().st_mtime_ns == memory


def test_without_the_memory_a_second_night_still_lands_nothing(tmp_path: Path) -> None:
    school = school_with(tmp_path, "S1")
    school.night()
    before = school.content()
    for damage in ("{", '{"version": 1, "files": {"logs/S1.csv": 3}, "told": []}', "[]"):
        school.store.memory_file.write_text(damage)
        report = school.night()
        assert (report.batch_id, report.already_landed) == (None, 1)
        assert school.content() == before


def test_a_touched_file_with_the_same_content_is_already_landed(tmp_path: Path) -> None:
    school = school_with(tmp_path, "S1")
    school.night()
    os.utime(school.inbox / "logs/S1.csv", (1, 1))
    assert school.night().already_landed == 1


def test_the_inbox_is_left_as_it_was(tmp_path: Path) -> None:
    school = school_with(tmp_path, "S1")
    school.put("logs/S2.csv", "broken")
    before = {p: p.read_bytes() for p in school.inbox.rglob("*") if p.is_file()}
    school.night()
    assert {p: p.read_bytes() for p in school.inbox.rglob("*") if p.is_file()} == before


def test_a_row_waits_for_its_log_and_a_log_for_its_row(tmp_path: Path) -> None:
    school = school_with(tmp_path, "S1")
    school.sessions(session_line("S2"))
    school.put("tasks/S3.csv", TASKS)
    report = school.night()
    assert _waits(report) == [
        ("unclaimed", "logs/S1.csv"),
        ("awaited", "S2"),
        ("unclaimed", "tasks/S3.csv"),
    ]
    assert not report.refusals
    assert report.batch_id is not None  # the roster is new
    school.sessions(session_line("S1"), session_line("S2"))
    school.put("logs/S2.csv", log_text())
    assert _landed(school.night()) == [("S1", 1, ()), ("S2", 1, ())]


def test_a_session_waits_for_its_student_and_lands_when_the_roster_has_them(tmp_path: Path) -> None:
    school = school_with(tmp_path, "S1")
    school.sessions(session_line("S1", "TH99"))
    assert _waits(school.night()) == [("student", "S1")]
    school.put("roster.csv", ROSTER + "TH99,2026A,2026-03-01,\n")
    assert _landed(school.night()) == [("S1", 1, ())]


def test_a_recorder_without_a_profile_waits(tmp_path: Path) -> None:
    school = school_with(tmp_path, "S1")
    line = session_line("S1").rstrip() + ",strange\n"
    school.sessions(line, heading=SESSION_HEADING.rstrip() + ",recorder\n")
    report = school.night()
    assert _waits(report) == [("recorder", "S1")]
    assert "no profile for recorder 'strange'" in report.waiting[0].sentence


def test_a_refused_log_is_tried_again_when_it_changes(tmp_path: Path) -> None:
    school = school_with(tmp_path, "S1", text="broken")
    assert rules_of(school.night()) == ["missing_column"] * 3
    school.put("logs/S1.csv", log_text())
    assert _landed(school.night()) == [("S1", 1, ())]


def test_a_refused_log_is_tried_again_when_its_row_changes(tmp_path: Path) -> None:
    stamps = [f"2026-03-14T09:{i // 60:02}:{i % 60:02}Z" for i in range(200)]
    school = school_with(tmp_path, "S1", text=log_text(time_s=None, timestamp=stamps))
    school.sessions(session_line("S1", started_at="2026-01-14T09:00:00Z"))
    assert len(school.night().new_refusals) == 1
    assert len(school.night().new_refusals) == 0
    school.sessions(session_line("S1"))
    assert _landed(school.night()) == [("S1", 1, ())]


@pytest.mark.parametrize(
    ("what", "file", "content"),
    [
        ("log", "logs/S1.csv", log_text(210)),
        ("row", "sessions.csv", SESSION_HEADING + session_line("S1", "TH02")),
        ("tasks", "tasks/S1.csv", TASKS.replace("90", "180")),
    ],
)
def test_a_change_makes_a_revision_that_says_what_changed(
    tmp_path: Path, what: str, file: str, content: str
) -> None:
    school = school_with(tmp_path, "S1")
    school.put("tasks/S1.csv", TASKS)
    school.night()
    school.put(file, content)
    assert _landed(school.night()) == [("S1", 2, (what,))]
    assert [row["revision"] for row in school.rows("sessions")] == [1, 2]
    assert len(school.samples()) == (210 if what == "log" else 200)
    assert school.session()["student_id"] == ("TH02" if what == "row" else "TH01")
    tasks = [row for row in school.rows("tasks") if row["revision"] == 2]
    assert [row["target_heading_deg"] for row in tasks] == [180 if what == "tasks" else 90]
    assert school.night().batch_id is None


def test_a_row_spelled_otherwise_is_no_change(tmp_path: Path) -> None:
    school = school_with(tmp_path, "S1")
    school.night()
    school.sessions(session_line(" S1 ", started_at="2026-03-14T10:00:00+01:00"))
    assert school.night().batch_id is None


def test_landed_logs_and_rows_may_leave_the_inbox(tmp_path: Path) -> None:
    school = school_with(tmp_path, "S1", "S2")
    school.night()
    school.sessions(session_line("S2"))
    (school.inbox / "logs/S2.csv").unlink()
    report = school.night()
    assert (report.batch_id, report.already_landed, report.waiting) == (None, 2, ())


def test_a_correction_finds_its_samples_in_the_store(tmp_path: Path) -> None:
    frozen = log_text(400, heading_deg=[90] * 400, bank_deg=[i % 9 * 5 for i in range(400)])
    school = school_with(tmp_path, "S1", text=frozen)
    school.put("tasks/S1.csv", TASKS + "5,20,turn,,\n20,30,climb,5000,\n")
    school.night()
    first, before = school.session(), school.samples()
    (school.inbox / "logs/S1.csv").unlink()
    (school.inbox / "tasks/S1.csv").unlink()
    school.sessions(session_line("S1", "TH02"))
    assert _landed(school.night()) == [("S1", 2, ("row",))]
    second = school.session()
    differing = {name for name in first if first[name] != second[name]}
    assert differing == {"revision", "batch_id", "student_id", "row_sha256"}
    assert set(gates_of(second)) == {("frozen", "heading_deg"), ("tasks_refused", None)}
    assert [{**row, "revision": 1} for row in school.samples()] == before
    assert [row["task_no"] for row in school.rows("tasks")] == [1, 3, 1, 3]


def test_a_corrected_start_moves_clock_times_even_without_the_log(tmp_path: Path) -> None:
    stamps = [f"2026-03-14T09:00:{i:02}Z" for i in range(60)]
    school = school_with(tmp_path, "S1", text=log_text(60, time_s=None, timestamp=stamps))
    school.night()
    (school.inbox / "logs/S1.csv").unlink()
    school.sessions(session_line("S1", started_at="2026-03-14T09:00:10Z"))
    school.night()
    assert school.samples()[0]["t_ms"] == -10_000


@pytest.mark.parametrize(
    ("line", "rule", "column"),
    [
        (",TH01,2026-03-14T09:00:00Z,,,,\n", "blank", "session_id"),
        ("../S9,TH01,2026-03-14T09:00:00Z,,,,\n", "unsafe_identifier", "session_id"),
        ("a\\b,TH01,2026-03-14T09:00:00Z,,,,\n", "unsafe_identifier", "session_id"),
        ("S9,=HYPERLINK(1),2026-03-14T09:00:00Z,,,,\n", "unsafe_identifier", "student_id"),
        ("S9,TH01,2026-03-14T09:00:00Z,@sim,,,\n", "unsafe_identifier", "device_id"),
        ("S9,TH01,2026-03-14T09:00:00Z,,,,-lesson\n", "unsafe_identifier", "lesson"),
        ("S9,TH\u202e01,2026-03-14T09:00:00Z,,,,\n", "unsafe_identifier", "student_id"),
        (f"S9,TH01,2026-03-14T09:00:00Z,,,,{'x' * 81}\n", "unsafe_identifier", "lesson"),
        ("S9,TH01,yesterday,,,,\n", "bad_time", "started_at"),
        ("S9,TH01,2026-03-14T09:00:00,,,,\n", "no_offset", "started_at"),
        ("S9,TH01,0001-01-01T00:00:00+14:00,,,,\n", "bad_time", "started_at"),
        ("S9,TH01\n", "row_length", None),
        ("S9,TH01,2026-03-14T09:00:00Z,,,,,\n", "row_length", None),
    ],
)
def test_a_bad_session_row_is_refused_singly(
    tmp_path: Path, line: str, rule: str, column: str | None
) -> None:
    school = school_with(tmp_path, "S1")
    school.sessions(line, session_line("S1"))
    report = school.night()
    assert [landed.session_id for landed in report.landed] == ["S1"]
    (refusal,) = report.refusals
    reason = refusal.reasons[0]
    assert (refusal.what, reason.rule, reason.column, reason.row) == ("row", rule, column, 2)
    assert reason.sentence.startswith("sessions.csv, line 2")
    assert reason.sentence.isprintable()
    assert refusal.quarantined_as == "quarantine/2026-03-28/sessions.csv"
    again = school.night()
    assert (len(again.refusals), again.new_refusals) == (1, ())


def test_the_log_of_a_refused_row_waits(tmp_path: Path) -> None:
    school = school_with(tmp_path, "S1")
    school.sessions(session_line("S1", started_at="soon"))
    assert _waits(school.night()) == [("row", "logs/S1.csv")]


def test_two_rows_that_disagree_about_a_session_are_named(tmp_path: Path) -> None:
    school = school_with(tmp_path, "S1")
    school.sessions(session_line("S1"), session_line("S1"), session_line("S1", "TH02"))
    report = school.night()
    assert school.session()["student_id"] == "TH01"
    (reason,) = report.refusals[0].reasons
    assert (reason.rule, reason.row) == ("said_twice", 4)
    assert "line 2 says something else of the same session_id" in reason.sentence


@pytest.mark.parametrize(
    ("line", "rule"),
    [
        ("TH03,,2026-02-01,\n", "blank"),
        ("TH03,2026A,01/02/2026,\n", "bad_day"),
        ("+TH03,2026A,2026-02-01,\n", "unsafe_identifier"),
        ("TH03,20/26,2026-02-01,\n", "unsafe_identifier"),
        ("TH01,2026B,2026-02-01,\n", "said_twice"),
    ],
)
def test_a_bad_roster_row_is_refused_singly(tmp_path: Path, line: str, rule: str) -> None:
    school = school_with(tmp_path, "S1")
    school.put("roster.csv", ROSTER + line)
    report = school.night()
    assert rules_of(report) == [rule]
    assert report.roster_rows == 2
    assert len(report.landed) == 1


def test_the_roster_keeps_its_history_and_appends_only_what_is_new(tmp_path: Path) -> None:
    school = School(tmp_path)
    heading = "student_id,cohort,start_date,stage,left_on,research_consent\n"
    school.put("roster.csv", heading + "TH01,A,2026-02-01,early,,yes\nTH02,A,2026-02-01,,,\n")
    assert school.night().roster_rows == 2
    assert school.rows("sessions") == []
    assert len(school.store.committed_batches()) == 1
    school.put("roster.csv", heading + "TH02,A,2026-02-01,solo,2026-03-20,FALSE\n")
    assert school.night().roster_rows == 1
    assert school.night().batch_id is None
    rows = [
        (r["student_id"], r["stage"], r["left_on"], r["research_consent"])
        for r in school.rows("roster")
    ]
    assert rows == [
        ("TH01", "early", None, True),
        ("TH02", None, None, None),
        ("TH02", "solo", date(2026, 3, 20), False),
    ]


def test_devices_land_and_an_unlisted_one_is_said_once(tmp_path: Path) -> None:
    school = school_with(tmp_path, "S1", "S2")
    (school.inbox / "logs/S2.csv").unlink()
    first = school.night()
    assert first.warnings == (
        "devices.csv: no row for SIM-1; taken as simulator with a centring control",
    )
    school.put("logs/S2.csv", log_text())
    school.put(
        "devices.csv",
        "device_id,device_class,control,valid_from\nSIM-2,simulator,free,2026-01-01\nX,glider,free,\n",
    )
    second = school.night()
    assert second.warnings == ()
    assert rules_of(second) == ["unknown_word"]
    assert [row["device_id"] for row in school.rows("devices")] == ["SIM-2"]


@pytest.mark.parametrize("file", ["roster.csv", "sessions.csv"])
def test_a_paper_that_cannot_be_read_is_refused_whole_and_the_rest_goes_on(
    tmp_path: Path, file: str
) -> None:
    school = school_with(tmp_path, "S1")
    school.night()
    school.put(file, "a;b;c\n1;2;3\n")
    report = school.night()
    assert [refusal.what for refusal in report.refusals] == ["file"]
    assert report.already_landed == 1
    assert (school.store.root / str(report.refusals[0].quarantined_as)).exists()


def test_missing_session_columns_are_said_and_unknown(tmp_path: Path) -> None:
    school = school_with(tmp_path, "S1")
    school.sessions("S1,TH01,2026-03-14T09:00:00Z\n", heading="session_id,student_id,started_at\n")
    report = school.night()
    assert "no column device_id, aircraft_type, instructor_id, lesson" in report.warnings[0]
    assert school.session()["device_id"] is None


def test_a_session_in_the_future_or_before_the_students_start_lands_with_a_warning(
    tmp_path: Path,
) -> None:
    school = school_with(tmp_path, "S1", "S2")
    school.sessions(
        session_line("S1", started_at="2026-04-14T09:00:00Z"),
        session_line("S2", started_at="2026-01-14T09:00:00Z"),
    )
    report = school.night()
    assert len(report.landed) == 2
    assert any(
        "session S1: started_at 2026-04-14T09:00:00+00:00 lies in the future" in w
        for w in report.warnings
    )
    assert any(
        "session S2: flown on 2026-01-14, before the student's start_date" in w
        for w in report.warnings
    )
    assert ("started_in_future", None) in gates_of(school.session("S1"))


def _tasks(tmp_path: Path, *rows: str, log: str | None = None) -> tuple[School, LandReport]:
    school = school_with(tmp_path, "S1", text=log)
    heading = "start_s,end_s,kind,target_altitude_ft,target_heading_deg,flown_by\n"
    school.put("tasks/S1.csv", heading + "".join(f"{row}\n" for row in rows))
    return school, school.night()


def test_tasks_land_with_their_number_and_the_student_as_the_usual_flyer(tmp_path: Path) -> None:
    school, report = _tasks(tmp_path, "0,10,level,4000,360,", "10,20,turn,,-90,instructor")
    assert not report.refusals
    rows = school.rows("tasks")
    assert [
        (r["task_no"], r["target_altitude_ft"], r["target_heading_deg"], r["flown_by"])
        for r in rows
    ] == [
        (1, 4000, 0, "student"),
        (2, None, 270, "instructor"),
    ]


@pytest.mark.parametrize(
    ("row", "rule", "words"),
    [
        ("5,15,level,,,", "overlap", "overlaps the one in line 2"),
        ("30,20,level,,,", "end_before_start", "ends at 20 s"),
        ("30,30,level,,,", "end_before_start", "not after its start"),
        ("30,60,level,,,", "outside_log", "from 0 to 49.75 s"),
        ("-5,-1,level,,,", "outside_log", "from 0 to 49.75 s"),
        ("50,51,level,,,", "outside_log", "nothing of the task"),
        ("30,40,loop,,,", "unknown_word", "not one of level, level_off"),
        ("30,40,level,99999,,", "bad_number", "from -2000 to 60000"),
        ("30,nan,level,,,", "bad_number", "'nan'"),
        ("30,,level,,,", "blank", "column end_s"),
        ("30,40,level,,,robot", "unknown_word", "student, instructor"),
        ("30,40", "row_length", "cells"),
    ],
)
def test_a_bad_task_is_refused_singly_and_named(
    tmp_path: Path, row: str, rule: str, words: str
) -> None:
    school, report = _tasks(tmp_path, "0,10,level,4000,90,", row, "10,20,climb,5000,90,")
    (refusal,) = report.refusals
    assert (refusal.what, refusal.session_id) == ("task", "S1")
    assert (refusal.reasons[0].rule, refusal.reasons[0].row) == (rule, 3)
    assert any(words in reason.sentence for reason in refusal.reasons)
    assert [r["task_no"] for r in school.rows("tasks")] == [1, 3]
    assert gates_of(school.session())["tasks_refused", None]["affected"] == 1
    assert (school.store.root / str(refusal.quarantined_as)).exists()


def test_of_two_overlapping_tasks_the_one_that_starts_later_is_refused(tmp_path: Path) -> None:
    school, report = _tasks(tmp_path, "8,20,level,,,", "0,10,level,,,")
    assert [reason.row for reason in report.refusals[0].reasons] == [2]
    assert [row["task_no"] for row in school.rows("tasks")] == [2]


@pytest.mark.parametrize("end", ["51.75", "50"])
def test_a_task_that_ends_just_past_the_log_is_clipped(tmp_path: Path, end: str) -> None:
    school, report = _tasks(tmp_path, f"0,{end},level,4000,90,")
    assert not report.refusals
    assert school.rows("tasks")[0]["end_s"] == 49.75
    assert gates_of(school.session())["tasks_clipped", None]["severity"] == "note"


def test_a_task_list_that_cannot_be_read_leaves_the_session_landed(tmp_path: Path) -> None:
    school = school_with(tmp_path, "S1")
    school.put("tasks/S1.csv", b"\xff\xfe\x00")
    report = school.night()
    assert len(report.landed) == 1
    assert rules_of(report) == ["wrong_encoding"]
    assert school.night().batch_id is None
    school.put("tasks/S1.csv", TASKS)
    assert _landed(school.night()) == [("S1", 2, ("tasks",))]


def test_a_second_log_of_a_session_is_refused(tmp_path: Path) -> None:
    school = school_with(tmp_path, "S1")
    school.put("logs/S1.parquet", b"PAR1")
    report = school.night()
    assert rules_of(report) == ["second_log"]
    assert len(report.landed) == 1


def test_links_out_of_the_inbox_and_unsafe_names_are_not_opened(tmp_path: Path) -> None:
    school = school_with(tmp_path, "S1")
    (tmp_path / "secret.csv").write_text(log_text())
    (school.inbox / "logs/S2.csv").symlink_to(tmp_path / "secret.csv")
    (school.inbox / "logs/S3.csv").mkdir()
    os.mkfifo(school.inbox / "logs/S4.csv")
    school.put("logs/=S5.csv", log_text())
    school.put("logs/notes.txt", "hello")
    school.put("logs/.hidden.csv", "hello")
    report = school.night()
    assert rules_of(report) == ["unsafe_identifier", "not_a_file", "not_a_file", "not_a_file"]
    assert any(w.startswith("logs/notes.txt: passed over") for w in report.warnings)
    assert not [p for p in school.store.root.rglob("*") if "secret" in p.name or p.name == "S2.csv"]


def test_batches_sort_by_time_even_when_the_clock_goes_back(tmp_path: Path) -> None:
    school = school_with(tmp_path, "S1")
    first = school.night().batch_id
    school.put("logs/S1.csv", log_text(210))
    second = school.night(NOW - timedelta(days=3)).batch_id
    assert first is not None
    assert second is not None
    assert first.startswith("b20260328T200000Z-")
    assert second.startswith("b20260328T200001Z-")


def test_the_sessions_file_holds_the_digest_of_every_file_of_its_batch(tmp_path: Path) -> None:
    from pipeline.store import digest_of, read_metadata

    school = school_with(tmp_path, "S1")
    school.put("tasks/S1.csv", TASKS)
    batch = school.night().batch_id
    assert batch is not None
    found = read_metadata(school.store.table_path("sessions", batch))
    assert found["kind"] == "sessions"
    assert found["fingerprints"] == {"S1": school.session()["log_sha256"]}
    written = {f.split("/")[0] for f in found["files"]}
    assert written == {"samples", "tasks", "roster"}
    for file, digest in found["files"].items():
        assert digest_of(school.store.root / file) == digest


def test_a_second_quarantine_copy_on_one_day_keeps_the_first(tmp_path: Path) -> None:
    school = school_with(tmp_path, "S1", text="broken")
    school.night()
    school.put("logs/S1.csv", "broken otherwise")
    (refusal,) = school.night().refusals
    folder = school.store.quarantine / "2026-03-28/logs"
    assert refusal.quarantined_as == "quarantine/2026-03-28/logs/2~S1.csv"
    assert (folder / "S1.csv").read_text() == "broken"
    assert json.loads((folder / "2~S1.csv.reason.json").read_text())


def test_a_report_counts_what_a_dead_run_left(tmp_path: Path) -> None:
    school = school_with(tmp_path, "S1")
    stray = school.store.samples_path(date(2026, 3, 14), "b20260101T000000Z-abcdef")
    stray.parent.mkdir(parents=True)
    stray.write_bytes(b"half")
    assert school.night().swept_files == 1
    assert not stray.exists()


def test_now_in_another_zone_names_the_same_batch(tmp_path: Path) -> None:
    from zoneinfo import ZoneInfo

    school = school_with(tmp_path, "S1")
    local = datetime(2026, 3, 28, 20, tzinfo=UTC).astimezone(ZoneInfo("Pacific/Auckland"))
    batch = school.night(local).batch_id
    assert batch is not None
    assert batch.startswith("b20260328T200000Z")


def test_sessions_of_before_a_date_are_left_for_another_run(tmp_path: Path) -> None:
    school = school_with(tmp_path, "S2", "S3")
    old = [session_line(s, started_at="2026-03-01T09:00:00+00:00") for s in ("S0", "S1")]
    school.sessions(*old, session_line("S2"), session_line("S3"))
    school.put("logs/S0.csv", "broken")
    school.put("logs/S1.csv", log_text())
    whole = school.night()
    assert len(whole.new_refusals) == 1
    school.put("logs/S1.csv", log_text(210))
    later = land_inbox(school.inbox, school.store, Settings(), NOW, since=date(2026, 3, 14))
    assert (later.passed_over, later.already_landed, later.landed) == (2, 2, ())
    assert (later.refusals, later.waiting) == ((), ())
    again = school.night(NOW + timedelta(days=1))
    assert _landed(again) == [("S1", 2, ("log",))]
    assert [refusal.is_new for refusal in again.refusals] == [False]
