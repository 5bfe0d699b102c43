"""What a CSV log should come to, worked out cell by cell in plain Python: no Arrow, no arrays.

Slow and simple on purpose, so that the reader can be held against it.
"""

import csv
import io
import itertools
import re
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from pipeline.schema.channels import CHANNELS, REQUIRED_CHANNELS

NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")
RANGES = {c.name: (c.low, c.high) for c in CHANNELS if c.low is not None and c.high is not None}
TWO_DAYS_S = 172_800
SPIKES = {"altitude_ft": (100.0, 100.0), "heading_deg": (20.0, 30.0), "airspeed_kt": (20.0, 20.0)}


@dataclass
class Expected:
    """The samples that stay, or the rules that the log breaks."""

    t_ms: list[int] = field(default_factory=list)
    values: dict[str, list[float | None]] = field(default_factory=dict)
    rules: set[str] = field(default_factory=set)
    disorder: int = 0


def expected_of(content: bytes) -> Expected:
    """What should become of a log's bytes."""
    rule = _file_rule(content)
    if rule is not None:
        return Expected(rules={rule})
    lines = list(csv.reader(io.StringIO(content.decode("utf-8-sig"), newline="")))
    rows = [row for row in lines if row]
    header = [name.strip() for name in rows[0]]
    rules = _header_rules(header)
    if rules:
        return Expected(rules=rules)
    body = rows[1:]
    if not body:
        return Expected(rules={"header_only"})
    return _judge(header, body)


def _file_rule(content: bytes) -> str | None:
    if not content.strip():
        return "empty_file"
    if content[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return "wrong_encoding"
    if b"\0" in content:
        return "not_text"
    try:
        content.decode("utf-8")
    except UnicodeDecodeError:
        return "wrong_encoding"
    return None


def _header_rules(header: Sequence[str]) -> set[str]:
    missing = [name for name in ("time_s", *REQUIRED_CHANNELS) if name not in header]
    if len(header) == 1 and missing and any(mark in header[0] for mark in ";\t|"):
        return {"wrong_delimiter"}
    named = [name for name in header if name]
    twice = {"column_twice"} if len({*named}) < len(named) else set()
    return twice | ({"missing_column"} if missing else set())


def _judge(header: Sequence[str], body: Sequence[Sequence[str]]) -> Expected:
    whole = [dict(zip(header, row, strict=True)) for row in body if len(row) == len(header)]
    found = Expected()
    if len(body) - len(whole) > 0.05 * len(body):
        found.rules.add("row_length")
    if not whole:
        return found
    times = [_number(row["time_s"], -TWO_DAYS_S, TWO_DAYS_S) for row in whole]
    if sum(time is None for time in times) > 0.05 * len(body):
        found.rules.add("no_time")
    columns = {n: [_channel(n, row[n]) for row in whole] for n in RANGES if n in header}
    for name in REQUIRED_CHANNELS:
        written = sum(bool(row[name].strip()) for row in whole)
        bad = written - sum(value is not None for value in columns[name])
        if bad == written:
            found.rules.add("all_null")
        elif bad > 0.05 * written:
            found.rules.add("bad_values")
    timed = [i for i, time in enumerate(times) if time is not None]
    ms = [round(1000 * (times[i] or 0.0)) for i in timed]
    kept, found.disorder = _in_order(ms, [tuple(c[i] for c in columns.values()) for i in timed])
    found.t_ms = [ms[k] for k in kept]
    rows = [timed[k] for k in kept]
    found.values = {name: [column[i] for i in rows] for name, column in columns.items()}
    for name, (base, per_s) in SPIKES.items():
        if name in found.values:
            found.values[name] = without_spikes(found.t_ms, found.values[name], name, base, per_s)
    found.rules |= {"disorder"} if found.disorder > 0.01 * len(body) else set()
    return found


def _number(text: str, low: float, high: float) -> float | None:
    bare = text.strip()
    value = float(bare) if NUMBER.fullmatch(bare) else None
    return value if value is not None and low <= value <= high else None


def _channel(name: str, text: str) -> float | None:
    low, high = (float(np.float32(limit)) for limit in RANGES[name])
    bare = text.strip()
    if not NUMBER.fullmatch(bare):
        return None
    value = float(np.float32(float(bare)))
    if not low <= value <= high:
        return None
    if name == "heading_deg" and not 0 <= value < 360:
        turned = float(np.float32(value % 360.0))
        return 0.0 if turned >= 360 else turned
    return value


def _in_order(ms: Sequence[int], rows: Sequence[tuple[object, ...]]) -> tuple[list[int], int]:
    """Rows that lie ahead of all before them, and how many others are no exact copies."""
    seen: set[tuple[object, ...]] = set()
    kept: list[int] = []
    disorder = 0
    for index, key in enumerate(zip(ms, rows, strict=True)):
        if key in seen:
            continue
        seen.add(key)
        if not kept or key[0] > ms[kept[-1]]:
            kept.append(index)
        else:
            disorder += 1
    return kept, disorder


def without_spikes(
    ms: Sequence[int], column: list[float | None], name: str, base: float, per_s: float
) -> list[float | None]:
    """The column with None for a value far from both neighbours, which are calm and close together."""
    known = [(ms[i] / 1000, value, i) for i, value in enumerate(column) if value is not None]
    # Rounded to float32 as the samples are, so that a step on the very limit is judged alike.
    pairs = itertools.pairwise(known)
    steps = [(np.float32(b[1]) - np.float32(a[1]), b[0] - a[0]) for a, b in pairs]
    if name == "heading_deg":
        steps = [(np.float32((s + 180) % 360 - 180), t) for s, t in steps]
    all_steps = [(b - a) / 1000 for a, b in itertools.pairwise(ms)]
    gap_s = max(1.5, 2.5 * float(np.median(all_steps))) if all_steps else 1.5
    clean = list(column)
    for k in range(1, len(steps) - 2):
        (there, t1), (back, t2) = steps[k], steps[k + 1]
        is_far = abs(there) > base + per_s * t1 and abs(back) > base + per_s * t2
        calm = max(abs(there + back), abs(steps[k - 1][0]), abs(steps[k + 2][0])) <= base / 4
        if is_far and there * back < 0 and calm and t1 + t2 <= 2 * gap_s:
            clean[known[k + 1][2]] = None
    return clean
