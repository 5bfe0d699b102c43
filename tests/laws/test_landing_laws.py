"""Laws of landing: twice is once, order does not matter, a kill leaves all or nothing, no crash."""

import itertools
import math
import signal
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline.land.faults import RefusedFile
from pipeline.land.log_check import CleanLog
from pipeline.land.row_order import settle_order
from pipeline.land.rows import SessionRow
from pipeline.land.session_log import read_log
from pipeline.reports import Reason
from pipeline.settings import Landing
from tests.fuzz.reference import SPIKES, without_spikes
from tests.inboxes import NOW, ROSTER, TASKS, School, log_text, school_with, session_line

ROW = SessionRow("S1", "TH01", datetime(2026, 3, 14, 9, tzinfo=UTC))
ROOT = Path(__file__).parents[2]

GOOD_NUMBERS = st.floats(-2000, 60000, width=32).map(repr)
BAD_CELLS = st.sampled_from(["x", "nan", "inf", "-inf", "1e9", "-2001", "1,5", "NULL"])
CELLS = st.lists(st.one_of(GOOD_NUMBERS, GOOD_NUMBERS, st.just("")), min_size=1, max_size=60)


@contextmanager
def fresh_folder() -> Iterator[Path]:
    with tempfile.TemporaryDirectory() as folder:
        yield Path(folder)


@given(CELLS, st.dictionaries(st.integers(0, 59), BAD_CELLS, max_size=2))
@settings(max_examples=60, deadline=None)
def test_every_cell_is_stored_as_written_or_becomes_null(
    cells: list[str], bad: dict[int, str]
) -> None:
    spoiled = [bad.get(i, cell) for i, cell in enumerate(cells)]
    quoted = [f'"{cell}"' if "," in cell else cell for cell in spoiled]
    heading = list(range(len(cells)))
    text = log_text(len(cells), altitude_ft=quoted, heading_deg=heading, vertical_speed_fpm=None)
    usable = [i for i, cell in enumerate(spoiled) if cell and i not in bad]
    written = sum(bool(cell) for cell in spoiled)
    is_refused = not usable or written - len(usable) > 0.05 * written
    try:
        log = read_log(text.encode(), "logs/S1.csv", ".csv", ROW, Landing())
    except RefusedFile:
        assert is_refused
        return
    assert not is_refused
    column = [float(np.float32(spoiled[i])) if i in usable else None for i in range(len(cells))]
    wanted = without_spikes(log.t_ms.tolist(), column, "altitude_ft", *SPIKES["altitude_ft"])
    for stored, value in zip(log.values["altitude_ft"], wanted, strict=True):
        assert math.isnan(stored) if value is None else stored == value


Row = tuple[int, int]


def kept_rows(rows: list[Row]) -> list[int]:
    """The plain rule, row by row: an exact copy goes, then whatever does not lie ahead of all before it."""
    seen: set[Row] = set()
    kept: list[int] = []
    highest = -math.inf
    for index, row in enumerate(rows):
        if row in seen:
            continue
        seen.add(row)
        if row[0] > highest:
            highest = row[0]
            kept.append(index)
    return kept


@given(st.lists(st.tuples(st.integers(0, 12), st.integers(0, 2)), min_size=1, max_size=14))
@settings(max_examples=300, deadline=None)
def test_rows_that_stay_are_in_order_and_no_fewer_than_by_the_plain_rule(rows: list[Row]) -> None:
    ms = np.array([row[0] for row in rows], np.int64)
    order = settle_order(ms, [np.array([row[1] for row in rows], np.float32)])
    assert (np.diff(ms[order.kept]) > 0).all()
    parts = (order.kept, order.duplicates, order.backwards, order.repeats)
    assert sorted(np.concatenate(parts)) == list(range(len(rows)))
    plain = kept_rows(rows)
    assert len(order.kept) >= len(plain)
    assert len(order.duplicates) == len(rows) - len(set(rows))
    if len(order.kept) == len(plain):
        assert list(order.kept) == plain


def log_or_reasons(content: bytes) -> CleanLog | tuple[Reason, ...]:
    """What the reader makes of a log's bytes."""
    try:
        return read_log(content, "logs/S1.csv", ".csv", ROW, Landing())
    except RefusedFile as refused:
        return refused.reasons


@given(
    st.lists(st.tuples(st.integers(0, 5000), st.integers(0, 255)), max_size=30),
    st.integers(0, 5000),
    st.sampled_from(["cut", "double", "keep"]),
)
@settings(max_examples=150, deadline=None)
def test_a_mutated_log_lands_or_is_refused_and_nothing_else(
    changes: list[tuple[int, int]], at: int, how: str
) -> None:
    content = bytearray(log_text(120).encode())
    for place, byte in changes:
        content[place % len(content)] = byte
    at %= len(content)
    mutated = {"cut": content[:at], "double": content[:at] + content, "keep": content}[how]
    found = log_or_reasons(bytes(mutated))
    if not isinstance(found, CleanLog):
        assert found
        assert all(reason.sentence.isprintable() for reason in found)
        return
    log = found
    assert (np.diff(log.t_ms) > 0).all()
    assert {"altitude_ft", "heading_deg"} <= set(log.channels)
    for values in log.values.values():
        assert not np.isinf(values).any()


def facts(school: School) -> dict[str, Any]:
    """All that is known of sessions, tasks and samples, without which batch brought it."""
    sessions = [
        {k: v for k, v in row.items() if k != "batch_id"} for row in school.rows("sessions")
    ]
    return {
        "sessions": sorted(sessions, key=lambda row: row["session_id"]),
        "tasks": sorted(school.rows("tasks"), key=lambda row: (row["session_id"], row["task_no"])),
        "samples": {row["session_id"]: school.samples(row["session_id"]) for row in sessions},
        "roster": sorted((row["student_id"], row["row_sha256"]) for row in school.rows("roster")),
    }


SESSIONS = ("S1", "S2", "S3", "S4")
LINES = [session_line(s, started_at=f"2026-03-1{i}T09:00:00Z") for i, s in enumerate(SESSIONS)]
LOGS = [
    log_text(40 + 7 * i, heading_deg=[359 + j % 3 for j in range(40 + 7 * i)]) for i in range(4)
]


def land_in_nights(root: Path, nights: tuple[int, ...], lines: list[str]) -> School:
    """Session i arrives in night nights[i]; the rows are there from the start, as in `lines`."""
    school = School(root)
    school.put("roster.csv", ROSTER)
    school.sessions(*lines)
    for night in range(3):
        for i, session_id in enumerate(SESSIONS):
            if nights[i] == night:
                school.put(f"logs/{session_id}.csv", LOGS[i])
                school.put(f"tasks/{session_id}.csv", TASKS)
        school.night(NOW + timedelta(days=night))
    return school


@given(st.tuples(*[st.integers(0, 2)] * 4), st.permutations(LINES))
@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_the_order_of_nights_and_of_rows_does_not_matter(
    nights: tuple[int, ...], lines: list[str]
) -> None:
    with fresh_folder() as one, fresh_folder() as other:
        in_one_night = land_in_nights(one, (0, 0, 0, 0), LINES)
        spread = land_in_nights(other, nights, lines)
        assert facts(spread) == facts(in_one_night)
        before = spread.content()
        assert spread.night(NOW + timedelta(days=9)).batch_id is None
        assert spread.content() == before


KILLED_AT = """
import os, signal, sys
from datetime import UTC, datetime
from pathlib import Path
from pipeline.land import land_inbox
from pipeline.reports import Reason
from pipeline.settings import Settings
from pipeline.store import Warehouse

countdown = int(sys.argv[3])

def deadly(call):
    def counted(*arguments, **options):
        global countdown
        countdown -= 1
        if countdown == 0:
            os.kill(os.getpid(), signal.SIGKILL)
        return call(*arguments, **options)
    return counted

for name in ("fsync", "replace"):
    setattr(os, name, deadly(getattr(os, name)))
land_inbox(Path(sys.argv[1]), Warehouse(Path(sys.argv[2])), Settings(), datetime(2026, 3, 28, 20, tzinfo=UTC))
"""


def landed_or_killed(school: School, point: int) -> bool:
    """Whether a night that is to be killed at the n-th fsync or rename ended before that."""
    arguments = [str(school.inbox), str(school.store.root), str(point)]
    done = subprocess.run([sys.executable, "-c", KILLED_AT, *arguments], cwd=ROOT, check=False)
    assert done.returncode in (0, -signal.SIGKILL)
    return done.returncode == 0


def check_kill(root: Path, point: int) -> bool:
    """Kill one night at a point; what is there afterwards is nothing or all, and the next night mends it."""
    school = school_with(root, "S1", "S2")
    school.put("tasks/S1.csv", TASKS)
    school.put("logs/S3.csv", "broken")
    school.sessions(
        session_line("S1"),
        session_line("S2", started_at="2026-03-15T09:00:00Z"),
        session_line("S3"),
    )
    has_ended = landed_or_killed(school, point)
    assert {row["session_id"] for row in school.rows("sessions")} in (set(), {"S1", "S2"})
    report = school.night()
    assert len(report.landed) + report.already_landed == 2
    assert len(report.refusals) == 1
    with fresh_folder() as folder:
        whole = school_with(folder, "S1", "S2")
        whole.put("tasks/S1.csv", TASKS)
        whole.sessions(session_line("S1"), session_line("S2", started_at="2026-03-15T09:00:00Z"))
        whole.night()
        assert facts(school) == facts(whole)
    strays = list(school.store.root.rglob("*.part"))
    assert strays == []
    assert school.night().swept_files == 0
    return has_ended


@pytest.mark.parametrize("point", [5, 12, 22])
def test_a_killed_night_leaves_a_whole_batch_or_none(tmp_path: Path, point: int) -> None:
    check_kill(tmp_path, point)


@pytest.mark.slow
def test_a_night_killed_at_every_flush_and_rename_leaves_a_whole_batch_or_none(
    tmp_path: Path,
) -> None:
    for point in itertools.count(1):
        if check_kill(tmp_path / str(point), point):
            break
    assert point > 20
