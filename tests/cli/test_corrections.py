"""`review`, `set-aside`, `withdraw`, `reassign`: what instructors add to a store."""

import json
import shutil
from pathlib import Path

import pytest

from tests.cli.conftest import Run, write_inbox


@pytest.fixture
def own(school: Path, tmp_path: Path) -> Path:
    """A warehouse of one's own to change."""
    shutil.copytree(school / "warehouse", tmp_path / "warehouse")
    return tmp_path / "warehouse"


def one(run: Run, warehouse: Path, sql: str) -> dict[str, object]:
    (row,) = json.loads(run("query", "--format", "json", "--warehouse", warehouse, sql).out)
    return dict(row)


def test_a_review_is_stored_and_said_to_change_nothing(run: Run, own: Path) -> None:
    student = one(run, own, "SELECT MIN(student_id) AS s FROM students")["s"]
    done = run(
        "review",
        student,
        "--aspect",
        "trim",
        "--note",
        "seen",
        "--until",
        "2099-01-01",
        "--warehouse",
        own,
    )
    assert done.code == 0
    assert f"noted for {student}, trim; the flag stays on the list" in done.out
    found = one(run, own, "SELECT kind, student_id, aspect, note FROM reviews")
    assert found == {"kind": "acknowledge", "student_id": student, "aspect": "trim", "note": "seen"}


def test_an_unknown_student_is_wrong_usage_and_stores_nothing(run: Run, own: Path) -> None:
    done = run("review", "nobody", "--note", "seen", "--warehouse", own)
    assert done.code == 2
    assert "there is no student 'nobody'" in done.err
    assert list((own / "reviews").glob("*")) == []


def test_a_session_is_set_aside_withdrawn_and_reassigned(run: Run, own: Path) -> None:
    session = one(run, own, "SELECT MIN(session_id) AS s FROM sessions")["s"]
    other = one(run, own, "SELECT MAX(student_id) AS s FROM students")["s"]
    assert run("set-aside", session, "--note", "traffic", "--warehouse", own).code == 0
    assert (
        run("reassign", session, "--student", other, "--note", "code", "--warehouse", own).code == 0
    )
    row = one(run, own, f"SELECT student_id FROM sessions WHERE session_id = '{session}'")
    assert row["student_id"] == other
    assert run("withdraw", session, "--note", "log of another", "--warehouse", own).code == 0
    count = one(run, own, f"SELECT COUNT(*) AS n FROM sessions WHERE session_id = '{session}'")
    assert count["n"] == 0
    assert one(run, own, "SELECT COUNT(*) AS n FROM stored_reviews")["n"] == 3


@pytest.mark.slow
def test_what_was_set_aside_stays_so_when_the_session_comes_anew_unless_the_task_is_another(
    run: Run, tmp_path: Path
) -> None:
    inbox, own = write_inbox(tmp_path / "inbox"), tmp_path / "warehouse"

    def land(altitude_ft: int) -> None:
        (inbox / "tasks" / "s1.csv").write_text(
            "start_s,end_s,kind,target_altitude_ft,target_heading_deg\n"
            f"0,20,climb,{altitude_ft},90\n20,120,level,{altitude_ft},90\n"
        )
        run("ingest", "--inbox", inbox, "--warehouse", own, "--quiet")
        run("score", "--warehouse", own, "--quiet")

    def standing() -> dict[str, object]:
        asked = "SELECT not_scored_reason AS why FROM maneuvers WHERE kind = 'level'"
        return one(run, own, asked)

    run("ingest", "--inbox", inbox, "--warehouse", own, "--quiet")
    run("score", "--warehouse", own, "--quiet")
    done = run("set-aside", "s1.1.01", "--note", "traffic", "--warehouse", own)
    assert (done.code, done.err) == (0, "")
    assert standing() == {"why": "set aside: traffic"}
    log = inbox / "logs" / "s1.csv"
    log.write_text(log.read_text().replace(",90\n", ",91\n"))
    land(3000)
    assert standing() == {"why": None}
    told = run("status", "--warehouse", own).out
    assert "set aside no longer: s1.1.01: revision 2 of the session has no such task" in told
    assert "ask the instructor whether" in told

    assert run("set-aside", "s1.2.02", "--note", "traffic", "--warehouse", own).code == 0
    log.write_text(log.read_text().replace(",91\n", ",92\n"))
    land(3000)
    assert standing() == {"why": "set aside: traffic"}
    asked = "SELECT maneuver_id, noted_maneuver_id FROM reviews WHERE lapsed_reason IS NULL"
    assert one(run, own, asked) == {"maneuver_id": "s1.3.02", "noted_maneuver_id": "s1.2.02"}
    for code in ("s1.1.01", "s1.3.02"):
        assert run("set-aside", code, "--undo", "--note", "n", "--warehouse", own).code == 0
    assert standing() == {"why": None}
    assert "no longer" not in run("status", "--warehouse", own).out
