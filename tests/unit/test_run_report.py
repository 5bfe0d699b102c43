"""The run report and its file for monitoring: every number from the run, nothing from the machine's clock."""

import json
import re
import subprocess
import sys
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from pipeline.nightly.meters import PeakMemory, Stopwatch, peak_memory, processor_s
from pipeline.nightly.metrics import metrics_text, write_metrics
from pipeline.nightly.outputs import output_digests, settings_digest
from pipeline.nightly.report import FlagName, NightReport, since_before, write_run_report
from pipeline.operate.flags import FlagLine
from pipeline.operate.retention import Removed
from pipeline.reports import LandReport, Outcome, Reason, Refusal, UnitReport, WorkReport
from pipeline.settings import Keep, Settings
from pipeline.store import Warehouse

NOW = datetime(2026, 3, 28, 2, tzinfo=UTC)
TRIM = FlagLine("TH04", "trim", date(2026, 3, 20), False, "held by muscle")
ALTITUDE = FlagLine("TH09", "altitude", date(2026, 3, 27), True, "outside the band")
BEFORE = {
    "run_id": "r1",
    "version": "0.1",
    "flags": [
        {"student_id": "TH04", "aspect": "trim"},
        {"student_id": "TH07", "aspect": "heading"},
    ],
}


@pytest.fixture
def report() -> NightReport:
    refusal = Refusal("log", "logs/s2.csv", (Reason("empty", "it is empty", "logs/s2.csv"),))
    units = (
        UnitReport("2026-03-27/b1", Outcome.DONE),
        UnitReport("2026-03-26/b0", Outcome.CURRENT),
    )
    return NightReport(
        run_id="r2",
        started_at=NOW,
        ended_at=NOW + timedelta(seconds=3.5),
        definitions='a"b',
        settings_sha256="c" * 64,
        landed=LandReport("b1", NOW, refusals=(refusal,)),
        measured=WorkReport(units),
        flags=(TRIM, ALTITUDE),
        cleared=(),
        undecided=("TH11",),
        since_before=since_before(BEFORE, (TRIM, ALTITUDE)),
        moved=None,
        pages=Path("pages/index.html"),
        outputs={},
        removed=Removed(),
        took_s={"land_s": 1.5, "measure_s": 2.0},
        used_s={"land_s": 1.0, "measure_s": 3.5},
        peak_memory=PeakMemory(123456, None),
    )


def test_flags_are_compared_with_the_report_before(report: NightReport) -> None:
    changes = report.since_before
    assert changes is not None
    assert changes.run_id == "r1"
    assert changes.raised == (FlagName("TH09", "altitude"),)
    assert changes.cleared == (FlagName("TH07", "heading"),)


def test_with_no_report_before_what_changed_is_unknown_not_nothing() -> None:
    assert since_before(None, (TRIM,)) is None


def test_the_report_can_be_read_back(report: NightReport, tmp_path: Path) -> None:
    told = json.loads(write_run_report(Warehouse(tmp_path), report).read_text())
    assert told["exit_code"] == 3
    assert (told["measured"], told["current"], told["failed"]) == (1, 1, [])
    assert told["since_before"]["raised"] == [{"student_id": "TH09", "aspect": "altitude"}]
    assert told["peak_memory"] == {"own_bytes": 123456, "worker_bytes": None}
    assert told["took"] == {"land_s": 1.5, "measure_s": 2.0}
    assert told["processor"] == {"land_s": 1.0, "measure_s": 3.5}


SAMPLE = re.compile(r'([a-z_]+)(?:\{((?:[a-z_]+="(?:[^"\\\n]|\\["\\n])*",?)+)\})? (-?[0-9.e+]+)')


def samples(text: str) -> Iterator[tuple[str, str]]:
    """The samples of a text, held to OpenMetrics 1.0: metadata first, units end names, `# EOF` last."""
    lines = text.splitlines()
    assert text.endswith("# EOF\n")
    assert lines.count("# EOF") == 1
    family, seen = "", set()
    for line in lines[:-1]:
        if line.startswith("# TYPE "):
            family, kind = line.split()[2:]
            assert kind in {"gauge", "info"}
            assert family not in seen
            seen.add(family)
        elif line.startswith("# UNIT "):
            assert family.endswith("_" + line.split()[3])
        elif line.startswith("# HELP "):
            assert line.split()[2] == family
        else:
            found = SAMPLE.fullmatch(line)
            assert found, line
            assert found[1] in {family, f"{family}_info"}
            yield line.rpartition(" ")[0], found[3]


def test_the_file_for_monitoring_keeps_to_its_format(report: NightReport) -> None:
    found = dict(samples(metrics_text(report)))
    assert found["levelhold_run_start_timestamp_seconds"] == "1774663200.0"
    assert found['levelhold_stage_duration_seconds{stage="measure"}'] == "2.0"
    assert found["levelhold_run_exit_code"] == "3"
    assert found['levelhold_inputs_refused{is_new="yes"}'] == "1"
    assert found['levelhold_measured_units{outcome="done"}'] == "1"
    assert found['levelhold_flag_changes{change="raised"}'] == "1"
    assert found["levelhold_peak_memory_bytes"] == "123456"
    assert r'definitions="a\"b"' in metrics_text(report)


def test_the_file_for_monitoring_names_no_student(report: NightReport, tmp_path: Path) -> None:
    write_metrics(Warehouse(tmp_path), report)
    text = (tmp_path / "runs" / "levelhold.prom").read_text()
    assert not re.search(r"TH0\d|s2", text)


def test_a_stopwatch_reads_only_the_clocks_that_it_was_given() -> None:
    moments, used = iter([10.0, 11.25, 14.25]), iter([2.0, 2.5, 6.5])
    watch = Stopwatch(lambda: next(moments), lambda: next(used))
    watch.done("land_s")
    watch.done("measure_s")
    assert watch.took_s == {"land_s": 1.25, "measure_s": 3.0}
    assert watch.used_s == {"land_s": 0.5, "measure_s": 4.0}


def test_processor_time_is_of_this_process_and_of_its_children_that_ended() -> None:
    before = processor_s()
    subprocess.run([sys.executable, "-c", "sum(range(20_000_000))"], check=True)
    assert processor_s() - before > 0.05


def test_peak_memory_is_in_bytes() -> None:
    own = peak_memory().own_bytes
    assert own is None or own > 10_000_000


def test_settings_that_differ_have_another_digest() -> None:
    assert settings_digest(Settings()) == settings_digest(Settings())
    assert settings_digest(Settings(keep=Keep(runs_days=3))) != settings_digest(Settings())


def test_a_changed_page_changes_its_digest_and_what_was_not_written_has_none(
    tmp_path: Path,
) -> None:
    page = tmp_path / "pages" / "index.html"
    page.parent.mkdir()
    nothing = (Warehouse(tmp_path), "d", LandReport(None, NOW), WorkReport())
    digests = []
    for text in ("one", "two", "one"):
        page.write_text(text)
        digests.append(output_digests(*nothing))
    assert [set(found) for found in digests] == [{"pages"}] * 3
    assert digests[0] == digests[2] != digests[1]
