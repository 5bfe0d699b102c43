"""The overview: the findings that stand, short lists, the last run, the cohorts over time."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from pipeline.pages.chart_data import drawn, page_data, panels
from pipeline.pages.choices import overview_choices
from pipeline.pages.cohort_words import differences
from pipeline.pages.gather import Gathered, Row
from pipeline.pages.last_run import LastRun
from pipeline.pages.lists import short_lists
from pipeline.pages.meanings import in_words
from pipeline.pages.words import many, number, trim_floor


def overview(gathered: Gathered, run: LastRun | None) -> dict[str, Any]:
    """What the overview's template needs."""
    weeks = gathered["page_cohort_weeks"]
    apart = {
        name: panels(name, weeks, ("aspect",), "cohort") for name in ("cohort_trends", "met_shares")
    }
    charts = {name: drawn(name) for name in ("session_points", "settling_curves")}
    people = people_with_findings(gathered)
    return {
        "run": run,
        "people": people,
        "flag_chances": sorted({flag["confidence_words"] for flag in gathered["flags"]}),
        "flag_count": len(gathered["flags"]),
        "new_count": len(gathered["new_flags"]),
        "students": gathered["page_students"],
        "insufficient_students": len({r["student_id"] for r in gathered["insufficient_data"]}),
        "differences": differences(gathered),
        "suspect_devices": sorted({r["device_id"] for r in gathered["page_suspect_devices"]}),
        "limits": gathered.limits,
        "lists": short_lists(gathered),
        "weeks": weeks,
        "trim_floor": trim_floor(gathered.limits),
        "settling": gathered["settling_medians"],
        "latest": latest_sessions(gathered),
        "choices": overview_choices(gathered),
        "apart": apart,
        "drawn": charts,
        "data": page_data(
            [*apart["cohort_trends"], *apart["met_shares"], *charts.values()], gathered
        ),
    }


def findings(gathered: Gathered, flags: Sequence[Row]) -> list[dict[str, Any]]:
    """Flags with whether each is new, the sessions behind it and the maneuvers that it rests on."""
    counts = {(row["student_id"], row["aspect"]): row for row in gathered["page_findings"]}
    new = {(row["student_id"], row["aspect"]) for row in gathered["new_flags"]}
    return [
        {
            **flag,
            "sessions_since": counts[flag["student_id"], flag["aspect"]]["sessions_since"],
            "maneuver_count": counts[flag["student_id"], flag["aspect"]]["maneuver_count"],
            "outside_from_date": counts[flag["student_id"], flag["aspect"]]["outside_from_date"],
            "is_outside_from_first": counts[flag["student_id"], flag["aspect"]][
                "is_outside_from_first"
            ],
            "excluded": [in_words(reason) for reason in flag["excluded"]],
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


def tolerance_words(gathered: Gathered, standard_id: str | None) -> str:
    """A standard's tolerances in one phrase."""
    found = {r["channel"]: r for r in gathered["standards"] if r["standard_id"] == standard_id}
    order = [found[c] for c in ("altitude", "heading", "airspeed") if c in found]
    return ", ".join(
        f"{row['channel']} \u00b1{number(row['tolerance'])}"
        f"{chr(176) if row['unit'] == 'deg' else ' ' + row['unit']}"
        for row in order
    )


def insufficient_reasons(gathered: Gathered) -> dict[tuple[str, str], str]:
    """Why there is insufficient data, by student and aspect."""
    return {
        (row["student_id"], row["aspect"]): in_words(row["reason"])
        for row in gathered["insufficient_data"]
    }


def newest_words(gathered: Gathered, today: date) -> str:
    """How long before this run the newest flight was, and what that does to the figures."""
    days = 0 if gathered.as_of is None else (today - gathered.as_of).days
    if days <= 0:
        return ""
    told = f", {many(days, 'day')} before the pages were written"
    if days < gathered.limits["flag_not_seen_days"]:
        return told
    return (
        f"{told}. Everything here is told as of that flight: \u201cnot seen lately\u201d counts back "
        "from it, not from today"
    )
