"""What one log shows right after the lesson, in words that an instructor can say."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import duckdb

from pipeline.explain.flown import details_of
from pipeline.explain.one_log import Debrief, in_own_names, landed_log
from pipeline.explain.rows import Row, rows_of
from pipeline.explain.words import at, degrees, feet, heading, push_or_pull, seconds, span, travel
from pipeline.reading import open_warehouse

RELATIONS = (
    "maneuvers",
    "sessions",
    "altitude_hold",
    "heading_hold",
    "maneuver_scores",
    "turn_figures",
    "capture_figures",
    "technique",
    "held_control",
    "trim_settling",
    "session_gates",
)
FLATTERS = (
    "The targets of what was found in the log are where the student settled, not what was asked for: "
    "this flatters."
)
CAUTION = "This informs an instructor and replaces none."
NOTHING_FOUND = "No maneuver was found: give the task list with --tasks to say what was asked for."


@dataclass(frozen=True)
class Flown:
    """One maneuver in words: when, what was asked for, and a line for each thing that was seen.

    `tolerance_ratio` is the larger of its altitude's and heading's, None where neither was judged.
    """

    maneuver_id: str
    kind: str
    tolerance_ratio: float | None
    when: str
    what: str
    details: tuple[str, ...]


@dataclass(frozen=True)
class Words:
    """A flight in words: its length, what is odd about the log, the whole in short, each maneuver."""

    length: str
    odd: tuple[str, ...]
    short: tuple[str, ...]
    maneuvers: tuple[Flown, ...]


@dataclass(frozen=True)
class DebriefAnswer:
    """The words, a line each; empty `lines` with `refusals` where the log was refused."""

    lines: tuple[str, ...]
    refusals: tuple[str, ...]


def debrief_log(asked: Debrief) -> DebriefAnswer:
    """What one log shows: each maneuver in words, what was held, what trim was missing.

    Nothing is kept. Raises UsageError where there is no such log.
    """
    with landed_log(asked) as landed:
        if landed.warehouse is None:
            return DebriefAnswer((), landed.refusals)
        con = open_warehouse(landed.warehouse, asked.settings, RELATIONS, extra=landed.known)
        return DebriefAnswer(tuple(lines_of(words_of(con, asked), asked.log.name)), landed.refusals)


def words_of(con: duckdb.DuckDBPyConnection, asked: Debrief) -> Words:
    """The flight in words, from a connection in which RELATIONS can be read."""
    [session] = rows_of(con, "SELECT * FROM sessions")
    gates = rows_of(con, "SELECT * FROM session_gates ORDER BY severity, gate")
    maneuvers = rows_of(con, _MANEUVERS)
    is_found = any(row["basis"] == "inferred" for row in maneuvers)
    return Words(
        f"{seconds(session['duration_s'])} of flight, {seconds(session['observed_s'])} observed",
        tuple(f"{g['severity']}: {in_own_names(asked, g['detail'])}" for g in gates),
        (*_short(maneuvers), *([FLATTERS] if is_found else [])) if maneuvers else (NOTHING_FOUND,),
        tuple(map(_flown, maneuvers)),
    )


def _flown(row: Row) -> Flown:
    ratios = [r for r in (row["altitude_ratio"], row["heading_ratio"]) if r is not None]
    return Flown(
        row["maneuver_id"],
        row["kind"],
        max(ratios, default=None),
        span(row["start_s"], row["end_s"]),
        _asked_for(row),
        tuple(details_of(row)),
    )


def lines_of(words: Words, name: str) -> Iterator[str]:
    """The words as lines of plain text, under the log's name."""
    yield f"{name}: {words.length}"
    yield from (f"  {odd}" for odd in words.odd)
    for flown in words.maneuvers:
        yield f"{flown.when}: {flown.what}"
        yield from (f"  {detail}" for detail in flown.details)
    yield from words.short
    yield CAUTION


_MANEUVERS = """
    SELECT
        m.*,
        a.altitude_bias_ft, a.altitude_hold95_ft, h.heading_bias_deg, h.heading_hold95_deg,
        c.held_control, c.held_force_n, c.is_untrimmed, c.held_control_reason,
        t.trim_settle_s, t.is_settled, t.trim_set_s, t.is_set, t.followed_s, t.settling_reason,
        q.is_chasing, q.trims, q.trims_right, q.trims_wrong, q.is_control_first,
        u.is_short_way, u.turned_deg, u.roll_out_error_deg, u.altitude_kept_ft, u.turn_reason,
        p.entry_rate_fpm, p.lead_ft, p.overshoot_ft, p.capture_s, p.is_captured,
        p.followed_s AS capture_followed_s, p.capture_reason,
        ra.tolerance_ratio AS altitude_ratio, ra.tolerance AS altitude_tolerance, ra.is_met AS altitude_met,
        rh.tolerance_ratio AS heading_ratio, rh.tolerance AS heading_tolerance, rh.is_met AS heading_met
    FROM maneuvers AS m
    LEFT JOIN altitude_hold AS a ON m.maneuver_id = a.maneuver_id
    LEFT JOIN heading_hold AS h ON m.maneuver_id = h.maneuver_id
    LEFT JOIN held_control AS c ON m.maneuver_id = c.maneuver_id
    LEFT JOIN trim_settling AS t ON m.maneuver_id = t.maneuver_id
    LEFT JOIN technique AS q ON m.maneuver_id = q.maneuver_id
    LEFT JOIN turn_figures AS u ON m.maneuver_id = u.maneuver_id
    LEFT JOIN capture_figures AS p ON m.maneuver_id = p.maneuver_id
    LEFT JOIN maneuver_scores AS ra ON m.maneuver_id = ra.maneuver_id AND ra.aspect = 'altitude'
    LEFT JOIN maneuver_scores AS rh ON m.maneuver_id = rh.maneuver_id AND rh.aspect = 'heading'
    ORDER BY m.start_s, m.maneuver_id
"""


def _asked_for(row: Row) -> str:
    """The maneuver and its targets, and whether they were assigned or found."""
    altitude, direction = row["target_altitude_ft"], row["target_heading_deg"]
    targets = [
        *([] if altitude is None else [feet(altitude)]),
        *([] if direction is None else [f"heading {heading(direction)}"]),
    ]
    basis = "" if row["basis"] == "assigned" else " (found in the log)"
    return f"{row['kind'].replace('_', ' ')}{basis}, {', '.join(targets) or 'no target'}"


def _short(maneuvers: Sequence[Row]) -> Iterator[str]:
    """The flight in a few sentences: altitude, heading and trim over its level maneuvers."""
    levels = [row for row in maneuvers if row["kind"] == "level"]
    for aspect, unit, say in (("altitude", "ft", feet), ("heading", "deg", degrees)):
        judged = [row for row in levels if row[f"{aspect}_met"] is not None]
        if not judged:
            continue
        met = sum(row[f"{aspect}_met"] for row in judged)
        widest, start_s = max((row[f"{aspect}_hold95_{unit}"], row["start_s"]) for row in judged)
        yield (
            f"{aspect.capitalize()}: the standard was met in {met} of {len(judged)} level maneuvers; "
            f"widest +-{say(widest)}, from {at(start_s)}."
        )
    yield from _trim(levels)


def _trim(levels: Sequence[Row]) -> Iterator[str]:
    """One sentence on trim over all level maneuvers, or why nothing can be said."""
    held = [row["held_control"] for row in levels if row["held_control"] is not None]
    if not levels:
        return
    if not held:
        reasons = {row["held_control_reason"] for row in levels} - {None}
        yield f"Trim: cannot say ({'; '.join(sorted(reasons)) or 'a free control'})."
        return
    mean = sum(held) / len(held)
    many = sum(row["is_untrimmed"] for row in levels if row["is_untrimmed"] is not None)
    one_way = all(h > 0 for h in held) or all(h < 0 for h in held)
    if many == 0:
        yield f"Trim: nothing to speak of was held in {len(held)} level maneuvers."
    elif one_way:
        yield (
            f"Trim: held in {many} of {len(held)} level maneuvers, "
            f"on average {travel(mean, signed=True)}, {push_or_pull(mean)}."
        )
    else:
        yield f"Trim: held in {many} of {len(held)} level maneuvers, now one way, now the other."
