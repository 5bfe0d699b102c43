"""Spoiled inputs: landed right or refused for the right reason; none lost, no traceback.

The long run, for a contributor: python -m tests.fuzz.long_run --inputs 20000
"""

import random
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.reports import LandReport
from pipeline.settings import Landing, Settings
from tests.fuzz.inputs import planted, scrambled
from tests.fuzz.outcomes import KINDS, LANDED, REFUSED, Tally, try_input
from tests.inboxes import ROSTER, SESSION_HEADING, TASKS, School, session_line
from tests.sizes import size

ROOT = Path(__file__).parents[2]
SEEDS = st.integers(0, 2**40)


@pytest.mark.parametrize("kind", sorted(KINDS))
@given(seed=SEEDS)
@settings(max_examples=60, deadline=None)
def test_a_spoiled_log_is_landed_right_or_refused_for_the_right_reason(
    kind: str, seed: int
) -> None:
    outcome, fault = KINDS[kind](seed)
    assert outcome is not None, fault


def _tally(inputs: int) -> Tally:
    tally = Tally()
    for seed in range(inputs):
        try_input(seed, tally)
    return tally


def test_a_few_hundred_inputs_end_in_every_way_there_is_and_none_badly() -> None:
    tally = _tally(350)
    assert tally.bad == []
    assert tally.counts.total() == 350
    assert min(tally.counts[LANDED], tally.counts[REFUSED]) > 50
    assert len(tally.counts) == 4


@pytest.mark.slow
def test_twenty_thousand_inputs_end_well() -> None:
    assert _tally(20_000).bad == []


def _spoiled(draw: random.Random, text: str) -> bytes:
    content = bytearray(text.encode())
    for _ in range(draw.choice((0, 0, 0, 1, 3))):
        content[draw.randrange(len(content))] = draw.choice((draw.randrange(256), 44, 34, 10))
    if draw.random() < 0.05:
        del content[draw.randrange(len(content)) :]
    return bytes(content)


def spoil_inbox(school: School, seed: int) -> None:
    """Five sessions whose logs, tasks and papers are damaged at random."""
    draw = random.Random(seed)
    names = [f"S{i}" for i in range(5)]
    lines = [session_line(name, f"TH0{1 + i % 2}") for i, name in enumerate(names)]
    school.put("roster.csv", _spoiled(draw, ROSTER))
    school.put("sessions.csv", _spoiled(draw, SESSION_HEADING + "".join(lines)))
    devices = "device_id,device_class,control,valid_from\nSIM-1,simulator,centring,\n"
    school.put("devices.csv", _spoiled(draw, devices))
    for name in names:
        make = draw.choice((planted, planted, scrambled))
        school.put(f"logs/{name}.csv", make(draw.randrange(2**40)))
        school.put(f"tasks/{name}.csv", _spoiled(draw, TASKS))


def lost_logs(school: School, report: LandReport) -> set[str]:
    """Logs of the inbox that a report neither lands, refuses nor lets wait."""
    landed = {f"logs/{session.session_id}.csv" for session in report.landed}
    refused = {refusal.file for refusal in report.refusals}
    waiting = {w.name for w in report.waiting} | {f"logs/{w.name}.csv" for w in report.waiting}
    there = {f"logs/{path.name}" for path in (school.inbox / "logs").iterdir()}
    return there - landed - refused - waiting


def check_night(seed: int) -> int:
    """Land a spoiled inbox twice; gives how many sessions landed."""
    with tempfile.TemporaryDirectory() as folder:
        school = School(Path(folder))
        spoil_inbox(school, seed)
        before = {p: p.read_bytes() for p in school.inbox.rglob("*") if p.is_file()}
        limits = Settings(landing=Landing(max_log_mb=4))
        report = school.night(settings=limits)
        assert lost_logs(school, report) == set()
        assert len(school.rows("sessions")) == len(report.landed)
        assert {p: p.read_bytes() for p in school.inbox.rglob("*") if p.is_file()} == before
        for refusal in report.refusals:
            assert refusal.reasons
            assert all(reason.sentence.isprintable() for reason in refusal.reasons)
            kept = school.store.root / str(refusal.quarantined_as)
            assert kept.read_bytes() == before[school.inbox / refusal.file]
        again = school.night(settings=limits)
        assert (again.landed, again.new_refusals) == ((), ())
        return len(report.landed)


@given(seed=SEEDS)
@settings(max_examples=12, deadline=None)
def test_in_a_night_of_damaged_files_every_log_is_landed_refused_or_waits(seed: int) -> None:
    check_night(seed)


@pytest.mark.slow
def test_in_hundreds_of_damaged_nights_nothing_is_lost() -> None:
    nights = size(200, 300)
    assert sum(check_night(seed) for seed in range(nights)) > nights / 2


@pytest.mark.slow
def test_the_coverage_guided_fuzzer_finds_nothing(tmp_path: Path) -> None:
    pytest.importorskip("atheris", reason="the extra `fuzz` is not installed")
    command = [sys.executable, "-m", "tests.fuzz.reader", "-atheris_runs=20000", "-max_len=4096"]
    artifacts = f"-artifact_prefix={tmp_path}/"
    done = subprocess.run(
        [*command, artifacts], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr[-3000:]
    assert "Done 20000" in done.stderr
