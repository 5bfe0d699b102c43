"""The marks of three charts, drawn from fixed rows, are those that a person looked at and found right.

Only the shapes of marks are compared: text is as wide as the machine's fonts make it. To accept a change that
was meant, look at the drawing, then run this file with GOLDEN_WRITE=1 in the environment.
"""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from pipeline.charts import CHARTS
from pipeline.charts.still import still

GOLDEN = Path(__file__).with_name("golden")

WEEKS = [
    {
        "cohort": cohort,
        "aspect": "altitude",
        "week": week,
        "weeks_ago": 4 - week,
        "median": round(level * 0.85**week, 3),
        "q1": round(0.7 * level * 0.85**week, 3),
        "q3": round(1.4 * level * 0.85**week, 3),
        "student_count": 9,
        "panel_no": 1,
    }
    for cohort, level in (("alpha", 1.2), ("beta", 0.8))
    for week in (1, 2, 3, 4)
]
CURVES = [
    {
        "cohort": "alpha",
        "figure": "set",
        "time_s": 10 * step,
        "at_risk": 20 - 3 * step,
        "survival": round(1 - 0.15 * step, 2),
        "low": round(max(0.0, 0.8 - 0.15 * step), 2),
        "high": round(min(1.0, 1.1 - 0.15 * step), 2),
    }
    for step in range(6)
]
STRIP: dict[str, list[dict[str, Any]]] = {
    "points": [
        {"maneuver_id": "m", "channel": "altitude", "t_s": t, "value": v}
        for t, v in ((0, 10), (20, 150), (30, None), (40, 40), (60, -20))
    ],
    "spans": [
        {"maneuver_id": "m", "channel": "altitude", "side": "above", "start_s": 14, "end_s": 25}
    ],
    "edges": [
        {"maneuver_id": "m", "channel": "altitude", "edge": edge, "value": value}
        for edge, value in (("target", 0), ("tolerance", -100), ("tolerance", 100))
    ],
    "moments": [{"maneuver_id": "m", "moment": "settled", "t_s": 42}],
}
DRAWN: dict[str, tuple[Mapping[str, Any], Mapping[str, Any]]] = {
    "cohort_trends": ({"weeks": WEEKS}, {}),
    "settling_curves": ({"curves": CURVES}, {}),
    "maneuver_strips": (STRIP, {"maneuver": "m"}),
}


def marks(svg: str) -> str:
    """The shapes of an SVG's marks, one a line, by kind of mark; axes, legends and text left out."""
    groups = re.split(r'(?=<g class="mark-)', svg)
    found = []
    for group in groups:
        kind = re.match(r'<g class="mark-(\w+) role-mark', group)
        if kind and kind.group(1) != "text":
            found += [
                f"{kind.group(1)} {shape}" for shape in re.findall(r'<path[^>]* d="([^"]*)"', group)
            ]
            found += [f"{kind.group(1)} {line}" for line in re.findall(r"<line ([^>]*?)/?>", group)]
    return "\n".join(found) + "\n"


@pytest.mark.parametrize("name", DRAWN)
def test_the_marks_are_those_that_were_looked_at(name: str) -> None:
    chart = CHARTS[name]
    rows, choices = DRAWN[name]
    told = marks(still(chart, rows, {**chart.choices, **choices}, ".svg").decode())
    golden = GOLDEN / f"{name}.txt"
    if os.environ.get("GOLDEN_WRITE") == "1":
        golden.write_text(told, encoding="utf-8")
    assert told == golden.read_text(encoding="utf-8")
