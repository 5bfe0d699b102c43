"""The options of the selects: what a reader can choose to see."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from pipeline.pages import commands
from pipeline.pages.gather import Gathered
from pipeline.pages.words import ASPECTS, KINDS, MOMENTS, day, heading, number


@dataclass(frozen=True)
class Option:
    """One thing to choose; `more` travels with it as data of the option; `group` names those set apart."""

    value: str
    words: str
    more: Mapping[str, str] | None = None
    group: str | None = None


ALL = Option("all", "all")
NONE = Option("none", "nobody")
WEEKS = (
    Option("1000", "all weeks"),
    Option("4", "latest 4 weeks"),
    Option("8", "latest 8 weeks"),
    Option("13", "latest 13 weeks"),
)
FIGURES = tuple(Option(name, words) for name, words in MOMENTS.items())
GROUPINGS = ("cohort", "stage", "lesson", "device", "instructor")


def aspects() -> Sequence[Option]:
    """The three aspects; one is always chosen."""
    return [Option(name, words) for name, words in ASPECTS.items()]


def values(found: Iterable[str]) -> Sequence[Option]:
    """All, then each value once in order."""
    return [ALL, *(Option(value, value) for value in sorted(set(found)))]


def overview_choices(gathered: Gathered) -> dict[str, Sequence[Option]]:
    """What the overview, the list of students and the devices page can be narrowed to."""
    points, students = gathered["page_session_points"], gathered["page_students"]
    cohorts = {row["student_id"]: row["cohort"] for row in points}
    left = {row["student_id"] for row in points if row["has_left"]}
    picked = [
        Option(s, s, {"cohort": cohorts[s]}, "have left" if s in left else None)
        for s in sorted(cohorts, key=lambda s: (s in left, s))
    ]
    return {
        "cohort": values([*cohorts.values(), *(s["cohort"] for s in students)]),
        "stage": values(row["stage"] for row in (*points, *students)),
        "aspect": aspects(),
        "weeks": WEEKS,
        "device": values([row["device_id"] for row in (*points, *gathered["page_device_days"])]),
        "student": [NONE, *picked],
        "figure": FIGURES,
    }


def cohort_choices(gathered: Gathered) -> dict[str, Sequence[Option]]:
    """What the cohorts page can be narrowed to: only groupings and device classes that were flown."""
    rows = gathered["page_group_weeks"]
    groupings = {row["grouping"] for row in rows}
    classes = sorted({row["device_class"] for row in rows}, reverse=True)
    return {
        "aspect": aspects(),
        "grouping": [Option(name, name) for name in GROUPINGS if name in groupings],
        "device_class": [Option(name, name) for name in classes],
        "figure": FIGURES,
    }


def maneuver_choices(gathered: Gathered, student_id: str) -> Sequence[Option]:
    """The maneuvers that a student's page can draw, each by what was asked and when."""
    return [
        Option(row["maneuver_id"], _maneuver_words(row), _commands(row["maneuver_id"]))
        for row in gathered.of(student_id, "page_maneuvers")
    ]


def _commands(maneuver_id: str) -> dict[str, str]:
    """The commands that tell of a maneuver: the page shows those of the one that is chosen."""
    return {"figures": commands.figures(maneuver_id), "explain": commands.explain(maneuver_id)}


def _maneuver_words(row: Mapping[str, object]) -> str:
    asked = [KINDS.get(str(row["kind"]), str(row["kind"]))]
    altitude, course = row["target_altitude_ft"], row["target_heading_deg"]
    if isinstance(altitude, float):
        asked.append(f"{number(altitude)} ft")
    if isinstance(course, float):
        asked.append(heading(course))
    return f"{day(row['session_date'])}, {', '.join(asked)} ({row['maneuver_id']})"  # type: ignore[arg-type]
