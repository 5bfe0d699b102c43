"""One student's page, and a sheet that can be handed out because it names nobody else."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from pipeline.charts import CHARTS
from pipeline.pages.chart_data import Drawn, page_data
from pipeline.pages.choices import maneuver_choices
from pipeline.pages.gather import Gathered, Row
from pipeline.pages.meanings import in_words
from pipeline.pages.overview import findings, tolerance_words
from pipeline.pages.words import (
    ASPECTS,
    MISSING,
    change_percent,
    held,
    many,
    number,
    trim_floor,
    trims,
)

STRIPS = {
    "altitude": "Altitude, feet from the assigned",
    "heading": "Heading, degrees from the assigned (+ is right)",
    "vertical_speed": "Vertical speed, feet a minute",
    "pitch_control": "Pitch control from where it rests (+ is a pull)",
    "pitch_trim": "Pitch trim (+ is nose up)",
}


def student_page(gathered: Gathered, student: Row) -> dict[str, Any]:
    """What the template of a student's page needs."""
    name = student["student_id"]
    common = _common(gathered, student)
    charts = _session_charts(common, student["cohort"], trim_floor(gathered.limits))
    strips = [_strip(channel, words) for channel, words in STRIPS.items()]
    maneuvers = [_with_words(row) for row in gathered.of(name, "page_maneuvers")]
    all_drawn = [*charts, *(strip["drawn"] for strip in strips if maneuvers)]
    return {
        **common,
        "session_charts": charts,
        "maneuvers": maneuvers,
        "maneuver_choices": maneuver_choices(gathered, name),
        "session_chart": CHARTS["student_sessions"],
        "maneuver_chart": CHARTS["maneuver_strips"],
        "strips": strips,
        "data": page_data(all_drawn, gathered, name),
    }


def handout(gathered: Gathered, student: Row) -> dict[str, Any]:
    """What the template of a student's sheet needs: nothing of any other student, the cohort included."""
    common = _common(gathered, student)
    charts = _session_charts(common, None, trim_floor(gathered.limits))
    return {
        **common,
        "session_charts": charts,
        "exercises": list(
            dict.fromkeys(row["exercise"] for row in (*common["flags"], *common["words"]))
        ),
        "data": page_data(charts, gathered, student["student_id"]),
    }


def _common(gathered: Gathered, student: Row) -> dict[str, Any]:
    name = student["student_id"]
    trends = {row["aspect"]: row for row in gathered.of(name, "student_trends")}
    states = [
        {
            **row,
            "state_reason": in_words(row["state_reason"]),
            "forecast": trends[row["aspect"]]["forecast"] if row["aspect"] in trends else None,
            "slope_words": _slope_words(trends[row["aspect"]]) if row["aspect"] in trends else "",
        }
        for row in gathered.of(name, "student_states")
    ]
    return {
        "student": student,
        "flags": findings(gathered, gathered.of(name, "flags")),
        "states": states,
        "is_too_early": all(row["state"] == "insufficient data" for row in states),
        "words": gathered.of(name, "worth_a_word"),
        "tolerances": tolerance_words(gathered, student["standard_id"]),
        "sessions": _sessions(gathered.of(name, "page_student_sessions")),
        "limits": gathered.limits,
    }


def _slope_words(trend: Row) -> str:
    """The change from session to session with its interval; nothing where it is too early to tell."""
    slope, low, high = (trend[f"slope{end}_per_session"] for end in ("", "_low", "_high"))
    if slope is None or low is None or high is None:
        return ""
    return (
        f"{change_percent(slope)}\u00a0% a session "
        f"({change_percent(low)} to {change_percent(high)}\u00a0%)"
    )


def _session_charts(common: Mapping[str, Any], cohort: str | None, floor: str) -> list[Drawn]:
    """A chart for each aspect, with the cohort's band where a cohort is named; none without a session."""
    if not common["sessions"]:
        return []
    weeks = {"shared": "weeks", "where": {"cohort": cohort}} if cohort else {"shared": "none"}
    says = {row["aspect"]: _state_words(row) for row in common["states"]}
    if "trim" in says:
        says["trim"] += f" {floor}"
    return [
        Drawn(
            CHARTS["student_sessions"],
            f"chart-sessions-{aspect}",
            {"aspect": aspect},
            {"weeks": weeks},
            says.get(aspect),
        )
        for aspect in ASPECTS
    ]


def _strip(channel: str, words: str) -> dict[str, Any]:
    place = f"chart-strip-{channel}".replace("_", "-")
    return {
        "words": words,
        "drawn": Drawn(CHARTS["maneuver_strips"], place, {"channel": channel}),
    }


def _sessions(rows: Sequence[Row]) -> list[dict[str, Any]]:
    """One line for each session, newest first, its aspects side by side."""
    lines: dict[str, dict[str, Any]] = {}
    for row in rows:
        line = lines.setdefault(
            row["session_id"],
            {**row, "altitude": None, "heading": None, "trim": None, "reasons": {}},
        )
        line[row["aspect"]] = row["tolerance_ratio"]
        if row["figure_reason"]:
            line["reasons"].setdefault(in_words(row["figure_reason"]), []).append(row["aspect"])
    for line in lines.values():
        line["left_out"] = "; ".join(
            reason if len(aspects) == len(ASPECTS) else f"{', '.join(aspects)}: {reason}"
            for reason, aspects in line["reasons"].items()
        )
    return sorted(lines.values(), key=lambda x: (x["started_at"], x["session_id"]), reverse=True)


def _state_words(row: Row) -> str:
    return f"{row['state'].capitalize()}: {row['state_reason']}."


def _with_words(row: Row) -> dict[str, Any]:
    """A maneuver with what its table says in words instead of figures."""
    is_level = row["kind"] == "level"
    held_words = held(row["held_control"])
    if is_level and row["held_control"] is None:
        held_words = in_words(row["held_control_reason"] or MISSING)
    return {
        **row,
        "held_words": held_words,
        "technique_words": _technique_words(row),
        "trimmed_words": "" if is_level else _trimmed_words(row),
        "not_scored_words": in_words(row["not_scored_reason"] or "") if is_level else "",
    }


def _technique_words(row: Row) -> str:
    """How the maneuver was flown: the control, the needle, the trim."""
    told = []
    if row["control_reversals_per_min"] is not None:
        told.append(f"{many(round(row['control_reversals_per_min']), 'reversal')} a minute")
    if row["is_chasing"]:
        told.append("needle chased")
    if row["trim_inputs"]:
        told.append(trims(row["trims_right"], row["trim_inputs"]))
    if row["is_control_first"] is False:
        told.append("trimmed before the control moved")
    return "; ".join(told) or MISSING


def _trimmed_words(row: Row) -> str:
    if row["is_set"]:
        return number(row["trim_set_s"])
    if row["is_settled"]:
        return f"{number(row['trim_settle_s'])} (steady; trim not left alone)"
    if row["followed_s"] is None:
        return in_words(row["settling_reason"] or MISSING)
    return f"not within {number(row['followed_s'])}"
