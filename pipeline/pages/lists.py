"""The short lists of the overview: each says who is in it, and what being in it means."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from pipeline.pages.gather import Gathered, Row
from pipeline.pages.meanings import BETWEEN, in_words
from pipeline.pages.words import ASPECTS, day, many

SHORT: Final = 30
"""A list whose words are shorter than this runs in lines, not in rows of its own."""


def short_lists(gathered: Gathered) -> list[dict[str, Any]]:
    """The lists beside the findings, each with the relation it comes from and one note on what it means."""
    return [
        _list("new", "new_flags", "New", _aspect_rows(gathered["new_flags"])),
        _list("cleared", "cleared_flags", "Cleared lately", _cleared(gathered)),
        _list("improving", "student_states", "Improving", _improving(gathered)),
        _list(
            "ready",
            "page_students",
            "Meets the standard in every aspect",
            _ready(gathered),
            "May be ready to move on: the instructor decides.",
        ),
        _list(
            "words",
            "worth_a_word",
            "Worth a word",
            [_line(r, r["sentence"]) for r in gathered["worth_a_word"]],
            "A habit that no finding tells.",
        ),
        _list(
            "insufficient",
            "insufficient_data",
            "Insufficient data",
            _insufficient(gathered),
            "Neither a pass nor a fail.",
        ),
        _list(
            "between",
            "student_states",
            "Neither clearly inside nor a finding",
            _between(gathered),
            "Slipping, on a plateau, or too close to say. What each means is on the page Definitions.",
        ),
        _list(
            "not-seen",
            "not_seen",
            "Not seen lately",
            [_line(row, _not_seen_words(row)) for row in gathered["not_seen"]],
            f"No session in the {gathered.limits['flag_not_seen_days']:.0f} days up to "
            f"{day(gathered.as_of)}, the day of the newest flight, whenever it is read; states are as they "
            "were.",
        ),
        _list("device", "page_suspect_devices", "Device in doubt", _device_doubts(gathered)),
        _list(
            "left-out",
            "page_left_out",
            "Left out, and why",
            _left_out(gathered),
            "Sessions, and single level maneuvers of sessions that count, that no state or finding rests on.",
        ),
    ]


def _list(
    name: str, relation: str, title: str, rows: Sequence[Mapping[str, Any]], note: str | None = None
) -> dict[str, Any]:
    is_short = all(len(row["words"]) < SHORT for row in rows)
    return {
        "id": name,
        "relation": relation,
        "title": title,
        "rows": rows,
        "note": note,
        "is_short": is_short,
    }


def _line(row: Row, words: str) -> dict[str, Any]:
    return {"student_id": row["student_id"], "cohort": row["cohort"], "words": in_words(words)}


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
        _line(row, "see Worth a word" if row["student_id"] in habits else "")
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
    return f"last {day(row['last_session_date'])}, {many(row['days_since'], 'day')} before"


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


def _between(gathered: Gathered) -> list[dict[str, Any]]:
    """Each aspect in a state that no other list tells."""
    return [
        _line(row, f"{row['aspect']}, {row['state']}; {row['state_reason']}")
        for row in gathered["student_states"]
        if row["state"] in BETWEEN
    ]


def _left_out(gathered: Gathered) -> list[dict[str, Any]]:
    """Every reason with its counts, aspects of the same count together."""
    return [
        {"student_id": None, "cohort": None, "words": _left_out_line(row)}
        for row in gathered["page_left_out"]
    ]


def _left_out_line(row: Row) -> str:
    return f"{in_words(row['reason'])}: {_left_out_words(row)}"


def _left_out_words(row: Row) -> str:
    parts: dict[str, list[str]] = {}
    for kind in ("sessions", "maneuvers"):
        for aspect in ASPECTS:
            if count := row[f"{aspect}_{kind}"]:
                parts.setdefault(many(count, kind.removesuffix("s")), []).append(aspect)
    return "; ".join(f"{count} {_in_aspects(aspects)}" for count, aspects in parts.items())


def _in_aspects(aspects: Sequence[str]) -> str:
    return "in every aspect" if len(aspects) == len(ASPECTS) else f"in {' and '.join(aspects)}"
