"""The last run as a text file for monitoring, in the OpenMetrics 1.0 text format; no student is in it."""

from collections import Counter
from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Final

from pipeline import __version__
from pipeline.nightly.report import NightReport
from pipeline.reports import Outcome
from pipeline.store import Warehouse, write_bytes

METRICS_NAME: Final = "levelhold.prom"


def write_metrics(warehouse: Warehouse, report: NightReport) -> None:
    """Replace runs/levelhold.prom, atomically: a collector sees the last run or this one, whole."""
    write_bytes(metrics_text(report).encode(), warehouse.runs / METRICS_NAME)


def write_failure_metrics(warehouse: Warehouse, now: datetime, exit_code: int) -> None:
    """Replace runs/levelhold.prom by what there is to tell of a run that ended early."""
    lines = (*_outcome(now, exit_code), "# EOF")
    text = "".join(f"{line}\n" for line in lines)
    write_bytes(text.encode(), warehouse.runs / METRICS_NAME)


def metrics_text(report: NightReport) -> str:
    """Gauges of one run, and what made it."""
    return "".join(f"{line}\n" for line in (*_info(report), *_gauges(report), "# EOF"))


def _info(report: NightReport) -> Iterator[str]:
    yield "# TYPE levelhold info"
    yield "# HELP levelhold The version that ran and the definitions that it measured by."
    labels = _labels({"version": __version__, "definitions": report.definitions})
    yield f"levelhold_info{labels} 1"


def _gauges(report: NightReport) -> Iterator[str]:
    yield from _outcome(report.started_at, report.exit_code)
    stages = {("stage", name.removesuffix("_s")): s for name, s in report.took_s.items()}
    yield from _series("stage_duration_seconds", "How long each stage took.", stages)
    landed = report.landed
    yield from _gauge("sessions_landed", "Sessions taken in this run.", len(landed.landed))
    new = len(landed.new_refusals)
    refused = {("is_new", "yes"): new, ("is_new", "no"): len(landed.refusals) - new}
    yield from _series("inputs_refused", "Inputs refused, for the first time or still.", refused)
    yield from _gauge("inputs_waiting", "Inputs that wait for another.", len(landed.waiting))
    units = Counter(unit.outcome for unit in report.measured.units)
    outcomes = {("outcome", outcome.value): units[outcome] for outcome in Outcome}
    yield from _series("measured_units", "Units of measuring by how they ended.", outcomes)
    yield from _gauge("flags", "Flags that stand.", len(report.flags))
    if (before := report.since_before) is not None:
        changes = {
            ("change", "raised"): len(before.raised),
            ("change", "cleared"): len(before.cleared),
        }
        yield from _series("flag_changes", "Flags that changed since the run before.", changes)
    if (peak := report.peak_memory.own_bytes) is not None:
        yield from _gauge("peak_memory_bytes", "The most memory that was resident.", peak)


def _outcome(started_at: datetime, exit_code: int) -> Iterator[str]:
    began = round(started_at.timestamp(), 3)
    yield from _gauge("run_start_timestamp_seconds", "When the run began.", began)
    meaning = "0 done; 3 some input was refused; any other: the run ended early."
    yield from _gauge("run_exit_code", meaning, exit_code)


def _gauge(name: str, meaning: str, value: float) -> Iterator[str]:
    yield from _head(name, meaning)
    yield f"levelhold_{name} {value}"


def _series(name: str, meaning: str, values: Mapping[tuple[str, str], float]) -> Iterator[str]:
    yield from _head(name, meaning)
    for label, value in values.items():
        yield f"levelhold_{name}{_labels(dict([label]))} {value}"


def _head(name: str, meaning: str) -> Iterator[str]:
    yield f"# TYPE levelhold_{name} gauge"
    unit = name.rpartition("_")[2]
    if unit in {"seconds", "bytes"}:
        yield f"# UNIT levelhold_{name} {unit}"
    yield f"# HELP levelhold_{name} {meaning}"


def _labels(labels: Mapping[str, str]) -> str:
    """Labels in braces; what may not stand in a value is escaped."""
    escapes = str.maketrans({"\\": r"\\", '"': r"\"", "\n": r"\n"})
    inner = ",".join(f'{name}="{value.translate(escapes)}"' for name, value in labels.items())
    return f"{{{inner}}}"
