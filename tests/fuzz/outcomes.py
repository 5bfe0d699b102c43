"""Reading a spoiled input and judging what came of it: right, lawful, wrong, or a traceback."""

import gzip
import io
import random
import traceback
import zlib
from collections import Counter
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from functools import cache
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from pipeline.land.faults import RefusedFile
from pipeline.land.log_check import CleanLog
from pipeline.land.profiles import Profile, load_profile
from pipeline.land.rows import SessionRow
from pipeline.land.session_log import read_log
from pipeline.settings import Landing
from tests.fuzz.inputs import clean_draft, damaged_gzip, foreign, planted, scrambled
from tests.fuzz.reference import Expected, expected_of

ROW = SessionRow("S1", "TH01", datetime(2026, 3, 14, 9, tzinfo=UTC))
LIMITS = Landing(max_log_mb=4)
PROFILES = Path(__file__).parents[2] / "sample_warehouse" / "profiles"
DISORDER = {"time_backwards", "time_repeats"}
GZIP_RULES = {"truncated_gzip", "damaged_gzip"}

LANDED, REFUSED = "landed right", "refused for the right reason"
LANDED_LAWFUL, REFUSED_LAWFUL = "landed, lawful", "refused with a reason"


@dataclass
class Tally:
    """How many inputs ended in which way, and every one that ended badly."""

    counts: Counter[str] = field(default_factory=Counter)
    bad: list[str] = field(default_factory=list)

    def add(self, kind: str, seed: int, outcome: str | None, fault: str = "") -> None:
        """One outcome; None means that it was wrong, and `fault` says how."""
        if outcome is None:
            self.bad.append(f"{kind} {seed}: {fault}")
        self.counts[outcome or ("traceback" if "Traceback" in fault else "wrong")] += 1


def read_input(content: bytes, ending: str = ".csv") -> CleanLog | set[str]:
    """The log that the reader makes of it, or the rules that it breaks."""
    try:
        return read_log(content, f"logs/S1{ending}", ending, ROW, LIMITS)
    except RefusedFile as refused:
        return rules_of(refused)


def rules_of(refused: RefusedFile) -> set[str]:
    """The rules that were broken; each reason is one short printable sentence that names the file."""
    assert refused.reasons
    for reason in refused.reasons:
        assert reason.sentence.isprintable(), reason
        assert reason.sentence.startswith("logs/S1"), reason
        assert len(reason.sentence) < 400, reason
    return {reason.rule for reason in refused.reasons}


def judge(found: CleanLog | set[str], expected: Expected) -> tuple[str | None, str]:
    """Whether the reader agrees with the reference; where not, how it differs."""
    if isinstance(found, set):
        rules = {"disorder" if rule in DISORDER else rule for rule in found}
        # The reader drops a lone row that jumps ahead, so it may find order where the plain rule
        # finds none.
        if rules in (expected.rules, expected.rules - {"disorder"}):
            return REFUSED, ""
        return None, f"refused for {sorted(rules)}, expected {sorted(expected.rules)}"
    # The reader may keep more rows than the plain rule: it drops a lone row that jumps ahead.
    if expected.rules - {"disorder"}:
        return None, f"landed, expected {sorted(expected.rules)}"
    check_lawful(found)
    if expected.disorder and found.t_ms.tolist() != expected.t_ms:
        is_better = len(found.t_ms) >= len(expected.t_ms)
        return (LANDED_LAWFUL, "") if is_better else (None, "kept fewer rows than the plain rule")
    if expected.rules:
        return None, "landed, expected disorder"
    return _same_samples(found, expected)


def _same_samples(found: CleanLog, expected: Expected) -> tuple[str | None, str]:
    if found.t_ms.tolist() != expected.t_ms:
        return None, "other times"
    for name, column in expected.values.items():
        wanted = np.array([np.nan if v is None else v for v in column], np.float32)
        if np.isnan(wanted).all():
            if name in found.values:
                return None, f"{name} should be absent"
        elif not np.array_equal(found.values[name], wanted, equal_nan=True):
            return None, f"other values of {name}"
    return LANDED, ""


def check_lawful(log: CleanLog) -> None:
    """What holds for every log that is taken."""
    assert (np.diff(log.t_ms) > 0).all()
    assert {"altitude_ft", "heading_deg"} <= set(log.channels)
    for values in log.values.values():
        assert len(values) == len(log.t_ms)
        assert not np.isinf(values).any()


def try_planted(seed: int) -> tuple[str | None, str]:
    """A log with planted faults, against the reference."""
    content = planted(seed)
    return judge(read_input(content), expected_of(content))


def try_scrambled(seed: int) -> tuple[str | None, str]:
    """Scrambled bytes: taken lawfully or refused with reasons."""
    return _lawful(read_input(scrambled(seed)))


def try_gzip(seed: int) -> tuple[str | None, str]:
    """A packed log: as its text if Python's gzip unpacks it, else refused as damaged or cut off."""
    content = damaged_gzip(seed)
    found = read_input(content, ".csv.gz")
    try:
        text = gzip.decompress(content)
    except (OSError, EOFError, zlib.error):
        # Bytes behind a whole member that are no member: the reader may not take what Python leaves.
        if isinstance(found, set) and found & GZIP_RULES:
            return REFUSED, ""
        return None, f"a damaged gzip file came to {found}"
    return judge(found, expected_of(text))


def try_parquet(seed: int) -> tuple[str | None, str]:
    """A Parquet log, whole or damaged."""
    draw = random.Random(seed)
    draft = clean_draft(draw)
    columns = zip(*draft.rows, strict=True)
    table = pa.table({n: [float(v) for v in c] for n, c in zip(draft.header, columns, strict=True)})
    sink = io.BytesIO()
    pq.write_table(table, sink)
    content = bytearray(sink.getvalue())
    if seed % 4 == 0:
        return judge(read_input(bytes(content), ".parquet"), expected_of(draft.text().encode()))
    if seed % 4 == 1:
        del content[draw.randrange(len(content)) :]
    for _ in range(draw.randint(1, 4) if seed % 4 > 1 else 0):
        content[draw.randrange(len(content))] = draw.randrange(256)
    return _lawful(read_input(bytes(content), ".parquet"))


def try_foreign(seed: int) -> tuple[str | None, str]:
    """Another recorder's log, damaged, through its shipped profile."""
    name, content = foreign(seed)
    row = replace(ROW, recorder=name)
    try:
        log = read_log(content, "logs/S1.csv", ".csv", row, LIMITS, profile_named(name))
    except RefusedFile as refused:
        return _lawful(rules_of(refused))
    return _lawful(log)


@cache
def profile_named(name: str) -> Profile:
    """A shipped profile."""
    return load_profile(PROFILES / f"{name}.toml")


def _lawful(found: CleanLog | set[str]) -> tuple[str | None, str]:
    if isinstance(found, set):
        return REFUSED_LAWFUL, ""
    check_lawful(found)
    return LANDED_LAWFUL, ""


KINDS = {
    "planted": try_planted,
    "scrambled": try_scrambled,
    "gzip": try_gzip,
    "parquet": try_parquet,
    "foreign": try_foreign,
}
SHARES = ("planted", "planted", "planted", "scrambled", "gzip", "parquet", "foreign")


def try_input(seed: int, tally: Tally) -> None:
    """One input of the kind that the seed names, counted."""
    kind = SHARES[seed % len(SHARES)]
    try:
        outcome, fault = KINDS[kind](seed)
    except Exception:  # noqa: BLE001 - a fuzzer counts whatever is raised
        outcome, fault = None, traceback.format_exc()
    tally.add(kind, seed, outcome, fault)
