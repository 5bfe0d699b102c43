"""The pages beside the overview and the students': cohorts, devices, data quality, definitions."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from pipeline.pages.chart_data import drawn, page_data, panels
from pipeline.pages.choices import cohort_choices, overview_choices
from pipeline.pages.cohort_words import differences, settling_differences, who_is_in_which_state
from pipeline.pages.gather import Gathered, Row
from pipeline.pages.last_run import LastRun
from pipeline.pages.meanings import GATE_WORDS, SEVERITY_WORDS, STATES, channel_words, in_words
from pipeline.pages.words import trim_floor
from pipeline.schema.gates import GATE_BY_NAME, SEVERITY_MEANINGS


def cohorts_page(gathered: Gathered) -> dict[str, Any]:
    """What the cohorts page needs."""
    choices = cohort_choices(gathered)
    groups = gathered["page_group_weeks"]
    curves = panels("group_curves", groups, ("grouping", "device_class", "aspect"), "group_value")
    charts = {"settling_curves": drawn("settling_curves")}
    return {
        "states": gathered["cohort_states"],
        "kinds_of_state": STATES,
        "who": who_is_in_which_state(gathered),
        "scatter": gathered["scatter_notes"],
        "notes": list(
            dict.fromkeys(r["scatter_note"] for r in gathered["scatter_notes"] if r["scatter_note"])
        ),
        "needed": max((r["sessions_needed"] for r in gathered["scatter_notes"]), default=None),
        "trim_floor": trim_floor(gathered.limits),
        "limits": gathered.limits,
        "differences": differences(gathered),
        "pairs": gathered["page_cohort_pairs"],
        "settling_differences": settling_differences(gathered),
        "groups": groups,
        "curves": gathered["page_settling_points"],
        "choices": choices,
        "apart": curves,
        "drawn": charts,
        "data": page_data([*curves, *charts.values()], gathered),
    }


def devices_page(gathered: Gathered) -> dict[str, Any]:
    """What the devices page needs."""
    charts = {name: drawn(name) for name in ("device_effects", "device_neutrals")}
    newest = {row["device_id"]: row for row in gathered["page_device_days"]}
    return {
        "suspect": [row["sentence"] for row in gathered["page_suspect_devices"]],
        "effects": gathered["page_device_effects"],
        "neutrals": list(newest.values()),
        "health": gathered["page_device_health"],
        "suspect_checks": sum(row["is_well"] is False for row in gathered["page_device_health"]),
        "checks": [_check(row) for row in gathered["page_device_checks"]],
        "limits": gathered.limits,
        "choices": overview_choices(gathered),
        "drawn": charts,
        "data": page_data(list(charts.values()), gathered),
    }


def quality_page(gathered: Gathered, run: LastRun | None) -> dict[str, Any]:
    """What the data-quality page needs."""
    return {
        "run": run,
        "left_out": [
            {**row, "reason": in_words(row["reason"])} for row in gathered["page_left_out"]
        ],
        "lapsed": _lapsed(gathered["reviews"]),
        "checks": [_check(row) for row in gathered["page_checks"]],
        "meanings": _meanings(gathered["page_checks"]),
        "severities": {SEVERITY_WORDS[name]: words for name, words in SEVERITY_MEANINGS.items()},
        "missing": [
            {**row, "words": channel_words(row["channel"])}
            for row in gathered["page_missing_channels"]
        ],
    }


def _lapsed(reviews: Sequence[Row]) -> list[Row]:
    """What was set aside and holds no longer, the latest first."""
    found = [row for row in reviews if row["kind"] == "set-aside" and row["lapsed_reason"]]
    return sorted(found, key=lambda row: (row["made_at"], row["noted_maneuver_id"]), reverse=True)


def _check(row: Row) -> dict[str, Any]:
    """What a data check found, with its check, channel and severity in words."""
    return {
        **row,
        "words": GATE_WORDS.get(row["gate"], row["gate"]),
        "channel_words": channel_words(row["channel"]),
        "severity_words": SEVERITY_WORDS.get(row["severity"], row["severity"]),
    }


def _meanings(rows: Sequence[Row]) -> list[dict[str, str]]:
    """What each check that spoke means and what to do about it."""
    names = dict.fromkeys(row["gate"] for row in rows)
    return [
        {
            "words": GATE_WORDS[n],
            "meaning": GATE_BY_NAME[n].meaning,
            "advice": GATE_BY_NAME[n].advice,
        }
        for n in names
        if n in GATE_BY_NAME
    ]


def definitions_page(gathered: Gathered) -> dict[str, Any]:
    """What the page of definitions and standards needs."""
    held = {
        row["stage"] or "(none)": {
            "stage": row["stage"] or "(none)",
            "standard_id": row["standard_id"],
            "reason": row["standard_reason"],
        }
        for row in gathered["student_standards"]
    }
    return {
        "limits": gathered.limits,
        "states": [(state.name, state.words(gathered.limits)) for state in STATES],
        "standards": gathered["standards"],
        "held": sorted(held.values(), key=lambda row: row["stage"]),
        "settings": [
            {
                **row,
                "value_words": f"{chr(0x2212) if row['value'] < 0 else ''}{abs(row['value']):g}",
            }
            for row in gathered["settings"]
        ],
    }
