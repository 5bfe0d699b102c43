"""How one maneuver's figures came about, in lines that a person can follow second by second."""

from __future__ import annotations

from collections.abc import Iterator

from pipeline.explain.handling import hands_off_lines, held_lines, steadiness_lines
from pipeline.explain.opened import Opened, figures_of
from pipeline.explain.rows import one_row, open_seconds, rows_of, session_of
from pipeline.explain.settling import settling_lines
from pipeline.explain.words import (
    degrees,
    feet,
    heading,
    plain,
    seconds,
    span,
)
from pipeline.reading import open_warehouse
from pipeline.settings import Settings
from pipeline.store import Warehouse

FIGURES = (
    "maneuvers",
    "sessions",
    "altitude_hold",
    "heading_hold",
    "excursions",
    "excursion_runs",
    "steadiness",
    "held_control",
    "device_neutrals",
    "trim_settling",
    "hands_off",
    "maneuver_scores",
    "standards",
    "limits",
)


SECONDS = ("observations", "settling_steps", "channel_sums")


def explain_maneuver(warehouse: Warehouse, settings: Settings, maneuver_id: str) -> tuple[str, ...]:
    """How each figure of a maneuver came about: seconds used and left out, gaps, excursions with
    their times, the settling search, the standard and its source; a line each.

    The seconds are read again from the samples. Raises UsageError where there is no such maneuver.
    """
    figures = open_warehouse(warehouse, settings, FIGURES)
    session = session_of(figures, maneuver_id)
    maneuver = one_row(figures, "SELECT * FROM maneuvers WHERE maneuver_id = ?", [maneuver_id])
    assert maneuver is not None
    opened = Opened(figures, open_seconds(warehouse, settings, session, SECONDS), maneuver, session)
    return (
        *_head(opened),
        *_seen(opened),
        *_channel(opened, "altitude"),
        *_channel(opened, "heading"),
        *steadiness_lines(opened),
        *held_lines(opened),
        *settling_lines(opened.figures, opened.seconds, maneuver_id),
        *hands_off_lines(opened),
        "This informs an instructor and replaces none; check the current edition of any standard.",
    )


def _head(opened: Opened) -> Iterator[str]:
    m, s = opened.maneuver, opened.session
    yield f"{m['maneuver_id']}: {m['kind']}, {m['basis']}, flown by the {m['flown_by']}"
    yield (
        f"  session {s['session_id']} of {s['student_id']} on {s['session_date']}, "
        f"device {s['device_id'] or 'not named'} ({s['device_class']}), air {s['air'] or 'not declared'}"
    )
    yield f"  asked for: {feet(m['target_altitude_ft'])}, heading {heading(m['target_heading_deg'])}"
    yield f"  lies at {span(m['start_s'], m['end_s'])} of the session's log {s['log_name']}"
    yield "  scored" if m["is_scored"] else f"  not scored: {m['not_scored_reason']}"


def _seen(opened: Opened) -> Iterator[str]:
    m = opened.maneuver
    length = m["end_s"] - m["start_s"]
    yield f"observed {seconds(m['observed_s'])} of {seconds(length)}"
    gaps = rows_of(
        opened.seconds,
        """
        WITH steps AS (
            SELECT t_s, step_s, LAG(t_s) OVER (ORDER BY t_s) AS previous_s
            FROM observations
            WHERE maneuver_id = ? AND channel = 'altitude'
        )
        SELECT previous_s, t_s FROM steps WHERE step_s IS NULL AND previous_s IS NOT NULL ORDER BY t_s
        """,
        [m["maneuver_id"]],
    )
    for gap in gaps:
        yield f"  gap {span(gap['previous_s'], gap['t_s'])}: nothing is known here, it counts for nothing"


def _channel(opened: Opened, channel: str) -> Iterator[str]:
    unit, say = ("ft", feet) if channel == "altitude" else ("deg", degrees)
    found = figures_of(opened, f"{channel}_hold")
    reason = found[f"{channel}_hold_reason"]
    yield channel if reason is None else f"{channel}: {reason}"
    if found[f"{channel}_hold95_{unit}"] is None:
        return
    value = {
        k: found[f"{channel}_{k}_{unit}"] for k in ("bias", "sd", "rmse", "mae", "max", "hold95")
    }
    yield (
        f"  error: mean {say(value['bias'], signed=True)}, spread {say(value['sd'])}, "
        f"root mean square {say(value['rmse'])}, mean absolute {say(value['mae'])}, "
        f"largest {say(value['max'])}"
    )
    yield f"  within {say(value['hold95'])} of the target for 95 % of the observed time"
    drift = found[f"{channel}_drift_{unit}_per_min"]
    if drift is not None:
        yield f"  drift {say(drift, signed=True)} per minute"
    yield from _against_standard(opened, channel)


def _against_standard(opened: Opened, channel: str) -> Iterator[str]:
    score = one_row(
        opened.figures,
        """
        SELECT m.*, s.document, s.edition, s.task, e.in_tolerance
        FROM maneuver_scores AS m
        LEFT JOIN standards AS s ON m.standard_id = s.standard_id AND m.aspect = s.channel
        LEFT JOIN excursions AS e
            ON m.maneuver_id = e.maneuver_id AND m.standard_id = e.standard_id AND m.aspect = e.channel
        WHERE m.maneuver_id = ? AND m.aspect = ?
        """,
        [opened.maneuver["maneuver_id"], channel],
    )
    if score is None or score["tolerance"] is None:
        return
    say = feet if channel == "altitude" else degrees
    edition = f", {score['edition']}" if score["edition"] else ""
    yield (
        f"  standard {score['standard_id']}: +-{say(score['tolerance'])} "
        f"({score['document']}{edition}; {score['task']})"
    )
    if score["tolerance_ratio"] is not None:
        met = {True: "met", False: "not met", None: "cannot say"}[score["is_met"]]
        inside = score["in_tolerance"]
        share = "" if inside is None else f", {100 * inside:.1f} % of the time inside"
        yield f"  tolerance ratio {plain(score['tolerance_ratio'])}{share}; {met}"
    yield from _excursions(opened, channel, score["tolerance"])


def _excursions(opened: Opened, channel: str, tolerance: float) -> Iterator[str]:
    say = feet if channel == "altitude" else degrees
    runs = rows_of(
        opened.figures,
        """
        SELECT * FROM excursion_runs
        WHERE maneuver_id = ? AND channel = ? AND ABS(edge) IN (?, 2 * ?)
        ORDER BY start_s, ABS(edge)
        """,
        [opened.maneuver["maneuver_id"], channel, tolerance, tolerance],
    )
    if not runs:
        yield "  never left the band"
    for run in runs:
        cut = (
            " (cut by an edge or a gap: at least this long)"
            if run["is_start_cut"] or run["is_end_cut"]
            else ""
        )
        yield f"  beyond {say(run['edge'], signed=True)}: {span(run['start_s'], run['end_s'])}{cut}"
