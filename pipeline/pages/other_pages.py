"""The pages beside the overview and the students': cohorts, devices, data quality, definitions."""

from __future__ import annotations

from typing import Any

from pipeline.pages.chart_data import drawn, page_data
from pipeline.pages.choices import cohort_choices, overview_choices
from pipeline.pages.gather import Gathered, Row
from pipeline.pages.last_run import LastRun
from pipeline.pages.words import number


def cohorts_page(gathered: Gathered) -> dict[str, Any]:
    """What the cohorts page needs."""
    choices = cohort_choices(gathered)
    charts = {name: drawn(name) for name in ("group_curves", "settling_curves")}
    return {
        "states": gathered["cohort_states"],
        "scatter": gathered["scatter_notes"],
        "differences": [
            {**row, "words": _difference(row)} for row in gathered["cohort_differences"]
        ],
        "settling_differences": [
            {**row, "words": _settling(row, gathered.limits["flag_trend_p"])}
            for row in gathered["settling_differences"]
        ],
        "groups": gathered["page_group_weeks"],
        "curves": gathered["page_settling_points"],
        "choices": choices,
        "drawn": charts,
        "data": page_data(list(charts.values()), gathered),
    }


def _difference(row: Row) -> str:
    counts = f"{row['student_count']} and {row['other_students']} students"
    if row["ratio"] is None:
        return f"{row['cohort']} and {row['other_cohort']} cannot be compared: {row['difference_reason']}."
    low, high = row["ratio_low"], row["ratio_high"]
    if low is None or high is None:
        verdict = "how sure that is cannot be told"
    else:
        verdict = "too close to call" if low <= 1 <= high else _who_is_ahead(row)
    return (
        f"the band that {row['cohort']} holds is {number(row['ratio'], 2)} times that of "
        f"{row['other_cohort']} "
        f"(95 % interval {number(low, 2)} to {number(high, 2)}; {counts}): {verdict}."
    )


def _who_is_ahead(row: Row) -> str:
    ahead = row["cohort"] if row["ratio"] < 1 else row["other_cohort"]
    return f"{ahead} is ahead"


def _settling(row: Row, least_p: float) -> str:
    counts = f"{row['student_count']} and {row['other_students']} students"
    if row["p"] is None:
        return f"{row['cohort']} and {row['other_cohort']} cannot be compared: too few students ({counts})."
    later = row["cohort"] if row["z"] > 0 else row["other_cohort"]
    told = "nothing tells them apart" if row["p"] > least_p else f"{later} is trimmed later"
    return (
        f"{row['cohort']} against {row['other_cohort']}: {told} "
        f"(log-rank over students, p = {number(row['p'], 3)}; {counts})."
    )


def devices_page(gathered: Gathered) -> dict[str, Any]:
    """What the devices page needs."""
    charts = {name: drawn(name) for name in ("device_effects", "device_neutrals")}
    newest = {row["device_id"]: row for row in gathered["page_device_days"]}
    return {
        "suspect": [row["sentence"] for row in gathered["page_suspect_devices"]],
        "effects": gathered["page_device_effects"],
        "neutrals": list(newest.values()),
        "health": sorted(
            gathered["device_health"], key=lambda row: (row["device_id"], row["device_check"])
        ),
        "checks": gathered["page_device_checks"],
        "limits": gathered.limits,
        "choices": overview_choices(gathered),
        "drawn": charts,
        "data": page_data(list(charts.values()), gathered),
    }


def quality_page(gathered: Gathered, run: LastRun | None) -> dict[str, Any]:
    """What the data-quality page needs."""
    return {
        "run": run,
        "left_out": gathered["page_left_out"],
        "checks": gathered["page_checks"],
        "missing": gathered["page_missing_channels"],
    }


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
        "standards": gathered["standards"],
        "held": sorted(held.values(), key=lambda row: row["stage"]),
        "settings": [{**row, "value_words": f"{row['value']:g}"} for row in gathered["settings"]],
    }
