"""What can be said of two cohorts, and of who stands where in them, in sentences."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from pipeline.pages.gather import Gathered, Row
from pipeline.pages.meanings import STATES
from pipeline.pages.words import ASPECTS, MOMENTS, number

Weeks = Mapping[tuple[str, str, str], tuple[int, int]]
"""First and last week of training by cohort, aspect and stratum."""


def differences(gathered: Gathered) -> list[dict[str, str]]:
    """For each pair of cohorts and aspect: who is ahead and by how much, or why that is not told.

    `words` is all of it, `short` what an overview has room for.
    """
    weeks = weeks_flown(gathered)
    compared = [_compared(row, weeks) for row in gathered["cohort_differences"]]
    names = ("cohort", "other_cohort", "standards", "other_standards", "pair_reason")
    found: dict[tuple[str, ...], list[Row]] = {}
    for row in gathered["page_cohort_pairs"]:
        found.setdefault(tuple(row[name] for name in names), []).append(row)
    return [*compared, *(_not_compared(rows) for rows in found.values())]


def _not_compared(rows: Sequence[Row]) -> dict[str, str]:
    row = rows[0]
    words = f"{_pair(row)} are not compared: {row['pair_reason']}."
    held = ""
    if row["standards"] is not None:
        held = (
            f" {row['cohort']} is held to {row['standards']}; "
            f"{row['other_cohort']} to {row['other_standards']}."
        )
    title = " and ".join(one["aspect"] for one in rows).capitalize()
    return {"title": title, "short": words, "words": words + held}


def weeks_flown(gathered: Gathered) -> Weeks:
    """The weeks of training, first and last, that the students of each cohort, aspect and stratum are at."""
    names = ("cohort", "aspect", "stratum", "student_id", "weeks_in", "is_counted")
    latest: dict[tuple[str, str, str, str], list[float]] = {}
    for row in gathered.columns("page_student_sessions", *names):
        if row["is_counted"]:
            key = (row["cohort"], row["aspect"], row["stratum"], row["student_id"])
            latest.setdefault(key, []).append(row["weeks_in"])
    found: dict[tuple[str, str, str], list[int]] = {}
    for (cohort, aspect, stratum, _), counted in latest.items():
        if len(counted) >= gathered.limits["flag_minimum_sessions"]:
            week = int(max(counted) + 0.5)
            found.setdefault((cohort, aspect, stratum), []).append(week)
    return {key: (min(weeks), max(weeks)) for key, weeks in found.items()}


def _apart(row: Row, weeks: Weeks) -> str:
    """That two cohorts are at different points of their training, where no week is common to both."""
    one = weeks.get((row["cohort"], row["aspect"], row["stratum"]))
    other = weeks.get((row["other_cohort"], row["aspect"], row["stratum"]))
    if one is None or other is None or (one[0] <= other[1] and other[0] <= one[1]):
        return ""
    return (
        f" They are at different points of their training: {row['cohort']} in {_week_words(one)}, "
        f"{row['other_cohort']} in {_week_words(other)}."
    )


def _week_words(weeks: tuple[int, int]) -> str:
    first, last = weeks
    return f"week {first}" if first == last else f"weeks {first} to {last}"


def _compared(row: Row, weeks: Weeks) -> dict[str, str]:
    title = f"{ASPECTS[row['aspect']]}, {row['stratum']}"
    counts = f"{row['student_count']} and {row['other_students']} students"
    if row["ratio"] is None:
        words = f"{_pair(row)} are not compared: {row['difference_reason']} ({counts})."
        return {"title": title, "short": words, "words": words}
    low, high = row["ratio_low"], row["ratio_high"]
    sure = f"95 % interval {number(low, 2)} to {number(high, 2)}"
    if low is None or high is None:
        sure, verdict = (
            row["difference_reason"],
            f"how sure a difference of {_pair(row)} is cannot be told",
        )
    elif low <= 1 <= high:
        verdict = f"{_pair(row)} are too close to call"
    else:
        verdict = _who_is_ahead(row)
    what = "control held by" if row["aspect"] == "trim" else "band held by"
    words = (
        f"{verdict}. The {what} {row['cohort']} is {number(row['ratio'], 2)} times that of "
        f"{row['other_cohort']} ({sure}; {counts})."
    )
    apart = _apart(row, weeks)
    return {"title": title, "short": f"{verdict} ({counts}).{apart}", "words": words + apart}


def _pair(row: Row) -> str:
    return f"{row['cohort']} and {row['other_cohort']}"


def _who_is_ahead(row: Row) -> str:
    ahead, factor = row["cohort"], 1 / row["ratio"]
    if factor < 1:
        ahead, factor = row["other_cohort"], row["ratio"]
    behind = row["other_cohort"] if ahead == row["cohort"] else row["cohort"]
    return f"{ahead} is ahead of {behind} by a factor of {number(factor, 2)}"


def settling_differences(gathered: Gathered) -> list[dict[str, str]]:
    """For each pair of cohorts and moment of trimming one sentence on who gets there later."""
    return [
        {
            "title": f"Time until {MOMENTS[row['figure']]}",
            "words": _settling(row, gathered.limits["flag_trend_p"]),
        }
        for row in gathered["settling_differences"]
    ]


def _settling(row: Row, least_p: float) -> str:
    counts = f"{row['student_count']} and {row['other_students']} students"
    if row["p"] is None:
        return f"{_pair(row)} are not compared: too few students ({counts})."
    later = row["cohort"] if row["z"] > 0 else row["other_cohort"]
    told = (
        f"{_pair(row)} are too close to call" if row["p"] > least_p else f"{later} gets there later"
    )
    return f"{told} (log-rank test with students as the unit, p\u00a0=\u00a0{number(row['p'], 2)}; {counts})."


def who_is_in_which_state(gathered: Gathered) -> list[dict[str, Any]]:
    """For each cohort and aspect, the students in each state that anyone is in."""
    found: dict[tuple[str, str], dict[str, list[str]]] = {}
    for row in gathered["student_states"]:
        states = found.setdefault((row["cohort"] or "(none)", row["aspect"]), {})
        states.setdefault(row["state"], []).append(row["student_id"])
    order = [state.name for state in STATES]
    return [
        {
            "cohort": cohort,
            "aspect": aspect,
            "states": sorted(states.items(), key=lambda item: order.index(item[0])),
        }
        for (cohort, aspect), states in sorted(found.items())
    ]
