"""A sheet to print after one flight: one file that needs nothing beside it, no script and no network."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any, Final

import duckdb
import pyarrow as pa
from markupsafe import Markup

from pipeline import __version__
from pipeline.charts import CHARTS
from pipeline.charts.still import inline
from pipeline.explain.debrief import (
    CAUTION,
    RELATIONS,
    DebriefAnswer,
    Flown,
    Words,
    lines_of,
    words_of,
)
from pipeline.explain.one_log import STUDENT, Debrief, LandedLog, landed_log
from pipeline.pages.by_student import StudentTable
from pipeline.pages.gather import read_relation
from pipeline.pages.shell import asset, render
from pipeline.pages.traces import TRACES, TraceReader
from pipeline.pages.words import band, typeset
from pipeline.reading import open_warehouse
from pipeline.store.warehouse import Warehouse
from pipeline.store.write import write_bytes

DRAWN_MAXIMUM: Final = 8
"""Maneuvers whose traces are drawn: as many as fit beside their words on two sheets of A4."""

STRIP_WIDTH, STRIP_HEIGHT = 208, 64
EVERY_MANEUVER: Final = 1e6
CHART: Final = CHARTS["maneuver_strips"]
STRIPS: Final = {
    "altitude": "Altitude, ft from the target",
    "heading": "Heading, \u00b0 from the target",
    "vertical_speed": "Vertical speed, ft/min",
    "pitch_control": "Pitch control from neutral",
}
_OF_LEVEL: Final = ("altitude", "heading", "pitch_control")
_OF_EVENT: Final = ("altitude", "vertical_speed", "pitch_control")
_TRACED: Final = (
    "page_trace_maneuvers",
    "page_trace_edges",
    "page_trace_moments",
    "page_trace_spans",
)
_NO_EVIDENCE: Final = pa.schema(
    [("student_id", pa.string()), ("maneuver_id", pa.string()), ("session_date", pa.date32())]
)


@dataclass(frozen=True)
class Strip:
    """One quantity of a maneuver over time: its name and the drawing, None where it was not recorded."""

    name: str
    drawing: Markup | None


@dataclass(frozen=True)
class Shown:
    """A maneuver as the sheet shows it; `strips` are empty where it is told in words only."""

    flown: Flown
    strips: tuple[Strip, ...]


def write_debrief_sheet(asked: Debrief, out: Path) -> DebriefAnswer:
    """Debrief one log, and write its sheet to `out`, which must lie in a folder that is there.

    Gives the same words as debrief_log; where the log was refused, no sheet is written.
    """
    with landed_log(asked) as landed:
        if landed.warehouse is None:
            return DebriefAnswer((), landed.refusals)
        page, words = _sheet(asked, landed, landed.warehouse)
    write_bytes(page.encode(), out)
    told = (*lines_of(words, asked.log.name), f"The sheet: {out}")
    return DebriefAnswer(told, landed.refusals)


def _sheet(asked: Debrief, landed: LandedLog, warehouse: Warehouse) -> tuple[str, Words]:
    """The sheet's text, and the words on it."""
    limits = {**asked.settings.limits, "page_trace_maneuvers": EVERY_MANEUVER}
    settings = asked.settings.model_copy(update={"limits": limits})
    extra = {**landed.known, "page_evidence": _NO_EVIDENCE.empty_table()}
    names = (*RELATIONS, *_TRACED, "student_standards", "standards")
    con = open_warehouse(warehouse, settings, names, extra=extra)
    words = words_of(con, asked)
    rows = _chart_rows(con, TraceReader(con, warehouse).read())
    traced = {row["maneuver_id"] for row in rows["points"]}
    shown = _shown(words, rows, traced)
    [session] = read_relation(con, "sessions")
    page = render(
        "debrief.html.j2",
        csp=_policy(),
        style=Markup(_style()),
        school=asked.settings.school_name or "Debrief",
        version=__version__,
        log=asked.log.name,
        flown_on=session["session_date"] if _is_day_known(asked, session) else None,
        words=_typeset(words),
        band=_band(con),
        shown=shown,
        left_out=sum(one.flown.maneuver_id in traced and not one.strips for one in shown),
        reading=CHART.reading,
        caution=CAUTION,
    )
    return page, words


def _typeset(words: Words) -> Words:
    """The same words with the signs of print: the command's own are those of any terminal."""
    return Words(
        words.length,
        tuple(map(typeset, words.odd)),
        tuple(map(typeset, words.short)),
        words.maneuvers,
    )


def _is_day_known(asked: Debrief, session: Mapping[str, Any]) -> bool:
    """Whether the session's day was given or told by the log, not only the day of this debrief."""
    return asked.day is not None or session["started_at"] != asked.now


def _band(con: duckdb.DuckDBPyConnection) -> str:
    """The standard that the flight is held to, with its tolerances, in one phrase."""
    [own] = read_relation(con, "student_standards")
    found = {
        r["channel"]: r
        for r in read_relation(con, "standards")
        if r["standard_id"] == own["standard_id"]
    }
    bands = [band(found[c]["tolerance"], c) for c in ("altitude", "heading") if c in found]
    return f"{own['standard_id']}: {', '.join(bands)}"


def _chart_rows(
    con: duckdb.DuckDBPyConnection, traces: StudentTable
) -> Mapping[str, Sequence[Mapping[str, Any]]]:
    """The rows of the strips' chart, of every maneuver of the flight."""
    return {
        name: [
            {column: row[column] for column in rows.columns}
            for row in (
                traces.of(STUDENT) if rows.relation == TRACES else read_relation(con, rows.relation)
            )
        ]
        for name, rows in CHART.rows.items()
    }


def _shown(
    words: Words, rows: Mapping[str, Sequence[Mapping[str, Any]]], traced: Collection[str]
) -> tuple[Shown, ...]:
    """Every maneuver in order of time, with strips where it is among those that are drawn."""
    ranked = sorted(
        (flown for flown in words.maneuvers if flown.maneuver_id in traced),
        key=lambda flown: -(flown.tolerance_ratio or 0.0),
    )
    drawn = {flown.maneuver_id for flown in ranked[:DRAWN_MAXIMUM]}
    return tuple(
        Shown(
            replace(flown, details=tuple(map(typeset, flown.details))),
            _strips(flown, rows) if flown.maneuver_id in drawn else (),
        )
        for flown in words.maneuvers
    )


def _strips(flown: Flown, rows: Mapping[str, Sequence[Mapping[str, Any]]]) -> tuple[Strip, ...]:
    mine = {
        name: [row for row in found if row["maneuver_id"] == flown.maneuver_id]
        for name, found in rows.items()
    }
    recorded = {row["channel"] for row in mine["points"]}
    channels = _OF_LEVEL if flown.kind == "level" else _OF_EVENT
    return tuple(
        Strip(STRIPS[channel], _drawing(flown, channel, mine) if channel in recorded else None)
        for channel in channels
    )


def _drawing(flown: Flown, channel: str, rows: Mapping[str, Sequence[Mapping[str, Any]]]) -> Markup:
    choices = {"maneuver": flown.maneuver_id, "channel": channel}
    return Markup(inline(CHART, rows, choices, STRIP_WIDTH, STRIP_HEIGHT))


@cache
def _style() -> str:
    """The pages' own style and what only the sheet needs."""
    return f"\n{asset('page.css')}{asset('debrief.css')}"


@cache
def _policy() -> str:
    """Nothing is loaded, nothing runs: the one style in the page, named by its hash, is all."""
    digest = base64.b64encode(hashlib.sha256(_style().encode()).digest()).decode()
    return (
        f"default-src 'none'; style-src 'sha256-{digest}'; img-src data:; "
        "base-uri 'none'; form-action 'none'"
    )
