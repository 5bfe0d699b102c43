"""Two runs at once, and readers beside a run: one works, the other says so, nobody sees half a night."""

import json
import subprocess
import sys
from datetime import timedelta
from pathlib import Path

import pytest

from pipeline.measure import measure_warehouse
from pipeline.store import compact, hold_lock, sweep
from tests.faults.test_disks import ROOT, ingest, levelhold
from tests.inboxes import NOW, School, school_with, session_line
from tests.sizes import size
from tests.stores import SETTINGS, busy_school

HOLD = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from pipeline.store import Warehouse, hold_lock
with hold_lock(Warehouse(Path(sys.argv[1])), "nightly", datetime(2026, 3, 28, 2, tzinfo=UTC)):
    print("held", flush=True)
    sys.stdin.read()
"""


def test_the_second_run_ends_at_once_with_75_and_a_killed_one_blocks_nobody(
    tmp_path: Path,
) -> None:
    school = school_with(tmp_path, "S1")
    with subprocess.Popen(
        [sys.executable, "-c", HOLD, str(school.store.root)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        cwd=ROOT,
    ) as first:
        assert first.stdout is not None
        assert first.stdout.readline() == "held\n"
        second = ingest(school)
        asked = levelhold(
            "query", "--format", "csv", "--warehouse", school.store.root, "SELECT 1 AS one"
        )
        first.kill()
        first.wait()
    assert second.returncode == 75
    assert f"`levelhold nightly` (process {first.pid} on " in second.stderr
    assert "nothing was changed, try again" in second.stderr
    assert asked.stdout.split() == ["one", "1"]
    assert ingest(school).returncode == 0


READ = """
import json, sys
from pathlib import Path
from pipeline.reading import open_warehouse
from pipeline.settings import Settings
from pipeline.store import Warehouse

QUERY = '''
    SELECT
        s.session_id,
        s.sample_count,
        (SELECT COUNT(*) FROM samples AS p WHERE p.session_id = s.session_id) AS samples,
        (SELECT COUNT(*) FROM tasks AS t WHERE t.session_id = s.session_id) AS tasks,
        (SELECT COUNT(*) FROM maneuvers AS m WHERE m.session_id = s.session_id) AS maneuvers,
        (
            SELECT COUNT(*)
            FROM altitude_hold AS a
            WHERE STARTS_WITH(a.maneuver_id, s.session_id || '.')
        ) AS holds
    FROM sessions AS s
    ORDER BY s.session_id
'''
store = Warehouse(Path(sys.argv[1]))
names = ["sessions", "samples", "tasks", "maneuvers", "altitude_hold"]
print("reading", flush=True)
while not Path(sys.argv[2]).exists():
    rows = open_warehouse(store, Settings(), names).execute(QUERY).fetchall()
    print(json.dumps(rows), flush=True)
"""


def views_beside(school: School, nights: int, ended: Path) -> list[list[tuple[object, ...]]]:
    """What a reader saw, look by look, while nights were landed, measured, compacted and swept."""
    with subprocess.Popen(
        [sys.executable, "-c", READ, str(school.store.root), str(ended)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=ROOT,
    ) as reader:
        assert reader.stdout is not None
        assert reader.stdout.readline() == "reading\n"
        for night in range(nights):
            take_night(school, night)
        ended.touch()
        out, err = reader.communicate()
    assert err == ""
    assert reader.returncode == 0
    return [[tuple(row) for row in json.loads(line)] for line in out.splitlines()]


def take_night(school: School, night: int) -> None:
    """Two sessions of two dates land together and are measured; then all is compacted."""
    now = NOW + timedelta(days=10 + night)
    for name in (f"P{night}", f"Q{night}"):
        for folder in ("logs", "tasks"):
            school.put(f"{folder}/{name}.csv", (school.inbox / folder / "A1.csv").read_text())
    lines = [
        session_line(f"{letter}{n}", started_at=f"2026-03-{day}T09:00:00Z")
        for n in range(night + 1)
        for letter, day in (("P", 16 + n), ("Q", 17 + n))
    ]
    school.sessions(*lines)
    with hold_lock(school.store, "nightly", now):
        school.night(now)
        measure_warehouse(school.store, SETTINGS)
    with hold_lock(school.store, "compact", now):
        compact(school.store, 64)


def test_a_reader_never_fails_and_never_sees_half_a_night(tmp_path: Path) -> None:
    check_reader(tmp_path, nights=2)


@pytest.mark.slow
def test_a_reader_never_fails_and_never_sees_half_of_many_nights(tmp_path: Path) -> None:
    check_reader(tmp_path, nights=size(6, 12))


def check_reader(tmp_path: Path, nights: int) -> None:
    school = busy_school(tmp_path, nights=1)
    with hold_lock(school.store, "score", NOW):
        sweep(school.store)
        measure_warehouse(school.store, SETTINGS)
    views = views_beside(school, nights, tmp_path / "ended")
    assert len(views) >= 3
    for view in views:
        seen = {str(row[0]) for row in view} - {"A1"}
        assert {f"P{name[1:]}" for name in seen} == {name for name in seen if name[0] == "P"}
        assert {f"Q{name[1:]}" for name in seen} == {name for name in seen if name[0] == "Q"}
        for _, sample_count, samples, tasks, maneuvers, holds in view:
            assert (samples, tasks) == (sample_count, 2)
            assert maneuvers == holds
            assert maneuvers in (0, 2)
    assert len(views[-1]) == 1 + 2 * nights
