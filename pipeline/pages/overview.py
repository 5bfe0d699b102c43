"""The overview: the findings that stand, short lists, the last run, the cohorts over time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from pipeline.pages.chart_data import drawn, page_data
from pipeline.pages.choices import overview_choices
from pipeline.pages.gather import Gathered, Row
from pipeline.pages.last_run import LastRun
from pipeline.pages.words import ASPECTS, day, many, number

KINDS_DRAWN = ("cohort_trends", "met_shares", "session_points", "settling_curves")


def overview(gathered: Gathered, run: LastRun | None) -> dict[str, Any]:
    """What the overview's template needs."""
    charts = {name: drawn(name) for name in KINDS_DRAWN}
    people = people_with_findings(gathered)
    return {
        "run": run,
        "people": people,
        "flag_count": len(gathered["flags"]),
        "new_count": len(gathered["new_flags"]),
        "students": gathered["page_students"],
        "insufficient_students": len({r["student_id"] for r in gathered["insufficient_data"]}),
        "limits": gathered.limits,
        "lists": short_lists(gathered),
        "weeks": gathered["page_cohort_weeks"],
        "settling": gathered["settling_medians"],
        "latest": latest_sessions(gathered),
        "choices": overview_choices(gathered),
        "drawn": charts,
        "data": page_data(list(charts.values()), gathered),
    }


def findings(gathered: Gathered, flags: Sequence[Row]) -> list[dict[str, Any]]:
    """Flags with whether each is new and the maneuvers that it rests on."""
    new = {(row["student_id"], row["aspect"]) for row in gathered["new_flags"]}
    return [
        {
            **flag,
            "is_new": (flag["student_id"], flag["aspect"]) in new,
            "rests_on": [
                row
                for row in gathered.of(flag["student_id"], "page_evidence")
                if row["aspect"] == flag["aspect"]
            ],
        }
        for flag in flags
    ]


def people_with_findings(gathered: Gathered) -> list[dict[str, Any]]:
    """Each student with a flag once, in the order of their surest flag, all flags together."""
    stages = {row["student_id"]: row for row in gathered["page_students"]}
    people: dict[str, dict[str, Any]] = {}
    for flag in findings(gathered, gathered["flags"]):
        student = stages[flag["student_id"]]
        person = people.setdefault(
            flag["student_id"],
            {
                "student_id": flag["student_id"],
                "cohort": student["cohort"],
                "stage": student["stage"],
                "flags": [],
            },
        )
        person["flags"].append(flag)
    return list(people.values())


def latest_sessions(gathered: Gathered) -> Sequence[Row]:
    """The newest session that counts of each student and aspect."""
    newest = {(row["student_id"], row["aspect"]): row for row in gathered["page_session_points"]}
    return list(newest.values())


def short_lists(gathered: Gathered) -> list[dict[str, Any]]:
    """The lists beside the findings, each with one note on what it means."""
    return [
        _list("new", "New", _aspect_rows(gathered["new_flags"])),
        _list("cleared", "Cleared lately", _cleared(gathered)),
        _list("improving", "Improving", _improving(gathered)),
        _list(
            "ready",
            "Meets the standard in every aspect",
            _ready(gathered),
            "May be ready to move on: the instructor decides.",
        ),
        _list(
            "words",
            "Worth a word",
            [_line(r, r["sentence"]) for r in gathered["worth_a_word"]],
            "A habit that no finding tells.",
        ),
        _list(
            "insufficient",
            "Too little data to say",
            _insufficient(gathered),
            "Neither a pass nor a fail.",
        ),
        _list(
            "not-seen",
            "Not seen lately",
            [_line(row, _not_seen_words(row)) for row in gathered["not_seen"]],
            f"No session for {gathered.limits['flag_not_seen_days']:.0f} days; states are as they were.",
        ),
        _list("device", "Device in doubt", _device_doubts(gathered)),
        _list(
            "left-out",
            "Left out, and why",
            _left_out(gathered),
            "Level flight that no finding rests on. All of it is on the page Data quality.",
        ),
    ]


def _list(
    name: str, title: str, rows: Sequence[Mapping[str, Any]], note: str | None = None
) -> dict[str, Any]:
    return {"id": name, "title": title, "rows": rows, "note": note}


def _line(row: Row, words: str) -> dict[str, Any]:
    return {"student_id": row["student_id"], "cohort": row["cohort"], "words": words}


def _aspect_rows(rows: Sequence[Row]) -> list[dict[str, Any]]:
    return [_line(row, row["aspect"]) for row in rows]


def _cleared(gathered: Gathered) -> list[dict[str, Any]]:
    return [
        _line(row, f"{row['aspect']}, {day(row['cleared_date'])}, now {row['state']}")
        for row in gathered["cleared_flags"]
    ]


def _improving(gathered: Gathered) -> list[dict[str, Any]]:
    return [
        _line(row, f"{row['aspect']}, {row['state']}")
        for row in gathered["student_states"]
        if row["trend"] == "improving"
    ]


def _ready(gathered: Gathered) -> list[dict[str, Any]]:
    """Students who meet the standard in every aspect; a habit worth a word is named beside them."""
    habits = {row["student_id"] for row in gathered["worth_a_word"]}
    return [
        _line(row, "but see Worth a word" if row["student_id"] in habits else "")
        for row in gathered["page_students"]
        if row["is_all_met"]
    ]


def _insufficient(gathered: Gathered) -> list[dict[str, Any]]:
    """One line for each student: the aspects together where the reason is the same."""
    lines: dict[tuple[str, str], list[Row]] = {}
    for row in gathered["insufficient_data"]:
        lines.setdefault((row["student_id"], row["reason"]), []).append(row)
    return [
        _line(rows[0], f"{_aspect_words(rows)}: {reason}")
        for (_, reason), rows in sorted(lines.items())
    ]


def _aspect_words(rows: Sequence[Row]) -> str:
    aspects = [row["aspect"] for row in rows]
    return "every aspect" if len(aspects) == len(ASPECTS) else " and ".join(aspects)


def _not_seen_words(row: Row) -> str:
    if row["last_session_date"] is None:
        return f"no session yet, started {day(row['start_date'])}"
    return f"last {day(row['last_session_date'])}, {many(row['days_since'], 'day')} ago"


def _device_doubts(gathered: Gathered) -> list[dict[str, Any]]:
    named = [
        {"student_id": None, "cohort": None, "words": row["sentence"]}
        for row in gathered["page_suspect_devices"]
    ]
    doubted = [
        _line(row, f"{row['aspect']}: {row['device_caution']}")
        for row in gathered["student_states"]
        if row["device_caution"]
    ]
    return [*named, *doubted]


def _left_out(gathered: Gathered) -> list[dict[str, Any]]:
    """Reasons with the most sessions and maneuvers, over the aspects together by their largest."""
    counts: dict[str, Row] = {}
    for row in gathered["page_left_out"]:
        before = counts.get(row["reason"])
        if before is None or _amount(row) > _amount(before):
            counts[row["reason"]] = row
    largest = sorted(counts.values(), key=_amount, reverse=True)[:6]
    return [{"student_id": None, "cohort": None, "words": _left_out_words(r)} for r in largest]


def _amount(row: Row) -> tuple[int, int]:
    return row["session_count"], row["maneuver_count"]


def _left_out_words(row: Row) -> str:
    parts = []
    if row["session_count"]:
        parts.append(many(row["session_count"], "session"))
    if row["maneuver_count"]:
        parts.append(many(row["maneuver_count"], "maneuver"))
    return f"{' and '.join(parts)}: {row['reason']}"


def tolerance_words(gathered: Gathered, standard_id: str | None) -> str:
    """A standard's tolerances in one phrase."""
    found = {r["channel"]: r for r in gathered["standards"] if r["standard_id"] == standard_id}
    order = [found[c] for c in ("altitude", "heading", "airspeed") if c in found]
    return ", ".join(
        f"{row['channel']} \u00b1{number(row['tolerance'])}"
        f"{chr(176) if row['unit'] == 'deg' else ' ' + row['unit']}"
        for row in order
    )
