"""Disks that are full, read-only or elsewhere, and logs that are not finished: clear words, nothing lost."""

import os
import random
import re
import resource
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path

import pytest

from pipeline.store import audit_store
from tests.inboxes import NOW, School, log_text, school_with, session_line

ROOT = Path(__file__).parents[2]
SMALL_BYTES = 12_000


def levelhold(
    *arguments: object, before: Callable[[], None] | None = None
) -> subprocess.CompletedProcess[str]:
    """One command in a process of its own."""
    command = [sys.executable, "-m", "pipeline", *map(str, arguments)]
    return subprocess.run(
        command, cwd=ROOT, capture_output=True, text=True, check=False, preexec_fn=before
    )


def ingest(
    school: School, before: Callable[[], None] | None = None
) -> subprocess.CompletedProcess[str]:
    """One look at the school's inbox."""
    return levelhold(
        "ingest", "--inbox", school.inbox, "--warehouse", school.store.root, before=before
    )


def is_told_clearly(done: subprocess.CompletedProcess[str], why: str) -> bool:
    """Whether a command that could not write ended with 74 and one line that says why and what to do."""
    (line,) = done.stderr.splitlines()
    return (
        done.returncode == 74
        and done.stdout == ""
        and why in line
        and re.match(r"levelhold: .+/.+: ", line) is not None
        and "what was there is whole" in line
        and "then run again" in line
    )


@contextmanager
def mounted(place: Path, options: str) -> Iterator[None]:
    """A small file system in memory at `place`; skips where this user may not mount one."""
    place.mkdir(parents=True, exist_ok=True)
    command = ["mount", "-t", "tmpfs", "-o", options, "tmpfs", str(place)]
    if subprocess.run(command, capture_output=True, check=False).returncode:
        pytest.skip("needs the right to mount a file system in memory")
    try:
        yield
    finally:
        # Lazily: a reader of this process that waits to be collected may still hold a file in it.
        subprocess.run(["umount", "--lazy", str(place)], check=True)


def remount(place: Path, options: str) -> None:
    subprocess.run(["mount", "-o", f"remount,{options}", str(place)], check=True)


def large_school(root: Path) -> School:
    """A school whose first night is larger than the small limits of these tests."""
    chance = random.Random(1)
    noise = [[chance.gauss(0, 3) for _ in range(20_000)] for _ in range(3)]
    text = log_text(
        20_000,
        altitude_ft=[4000 + x for x in noise[0]],
        heading_deg=[90 + x / 10 for x in noise[1]],
        vertical_speed_fpm=[10 * x for x in noise[2]],
    )
    return school_with(root, "S1", text=text)


def lands_and_is_sound(school: School) -> bool:
    done = ingest(school)
    landed = [row["session_id"] for row in school.rows("sessions")]
    return done.returncode == 0 and landed == ["S1"] and audit_store(school.store) == []


def test_a_file_that_may_not_grow_is_told_clearly_and_the_next_run_lands_it(tmp_path: Path) -> None:
    school = large_school(tmp_path)

    def limited() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (SMALL_BYTES, SMALL_BYTES))

    assert is_told_clearly(ingest(school, limited), "larger than this user may write")
    assert school.rows("sessions") == []
    assert lands_and_is_sound(school)


def test_a_full_disk_is_told_clearly_and_with_more_room_the_next_run_lands_it(
    tmp_path: Path,
) -> None:
    school = large_school(tmp_path)
    with mounted(school.store.root, "size=40k"):
        assert is_told_clearly(ingest(school), "no room is left on the disk")
        assert school.rows("sessions") == []
        remount(school.store.root, "size=4m")
        assert lands_and_is_sound(school)


def test_a_read_only_store_is_told_clearly_and_can_be_read(tmp_path: Path) -> None:
    school = school_with(tmp_path, "S1")
    with mounted(school.store.root, "size=4m"):
        school.night()
        school.put("logs/S1.csv", log_text(100))
        remount(school.store.root, "ro")
        assert is_told_clearly(ingest(school), "the file system is read-only")
        query = "SELECT COUNT(*) AS n FROM sessions"
        asked = levelhold("query", "--format", "csv", "--warehouse", school.store.root, query)
        assert asked.stdout.split() == ["n", "1"]
        remount(school.store.root, "rw")
        assert ingest(school).returncode == 0
        assert audit_store(school.store) == []


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_a_folder_without_permission_is_told_clearly(tmp_path: Path) -> None:
    school = school_with(tmp_path, "S1")
    school.store.root.mkdir()
    school.store.root.chmod(0o555)
    assert is_told_clearly(ingest(school), "no permission")
    school.store.root.chmod(0o755)
    assert lands_and_is_sound(school)


def test_an_inbox_on_another_file_system_lands_and_its_refusals_are_copied(tmp_path: Path) -> None:
    school = School(tmp_path)
    with mounted(school.inbox, "size=4m"):
        assert school.inbox.stat().st_dev != tmp_path.stat().st_dev
        school_with(tmp_path, "S1")
        school.sessions(session_line("S1"), session_line("S2"))
        school.put("logs/S2.csv", "broken")
        report = school.night()
        assert [s.session_id for s in report.landed] == ["S1"]
        assert len(list(school.store.quarantine.rglob("S2.csv"))) == 1
    assert audit_store(school.store) == []


def test_a_log_that_a_recorder_still_writes_waits_for_the_next_night(tmp_path: Path) -> None:
    school = school_with(tmp_path, "S1", "S2")
    with (school.inbox / "logs" / "S2.csv").open("a") as recorder:
        recorder.write("50.0,40")
        recorder.flush()
        report = school.night()
        assert [s.session_id for s in report.landed] == ["S1"]
        assert [(w.what, w.name) for w in report.waiting] == [("being_written", "logs/S2.csv")]
        assert report.refusals == ()
        recorder.write("00,90,0\n")
    after = school.night(NOW + timedelta(days=1))
    assert [(s.session_id, s.sample_count) for s in after.landed] == [("S2", 201)]
