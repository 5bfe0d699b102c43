"""One chart of the pages as a picture in a file of its own."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Any

from pipeline.charts import CHARTS, Chart
from pipeline.charts.still import FORMATS, still, suffix_of
from pipeline.errors import UsageError
from pipeline.pages.gather import Gathered, gather_some
from pipeline.pages.traces import TRACES
from pipeline.settings import Settings, nearest
from pipeline.store.warehouse import Warehouse
from pipeline.store.write import write_bytes


def draw_chart(
    warehouse: Warehouse,
    settings: Settings,
    name: str,
    out: Path,
    *,
    student: str | None = None,
    choices: Mapping[str, str] | None = None,
    as_of: date | None = None,
) -> Path:
    """Draw the chart `name` into `out` (its ending says whether SVG, PNG or PDF); gives the path.

    `student` picks out one student, which some charts need. `choices` sets the chart's choices (aspect,
    cohort, ...) by name. Raises UsageError where a name is not known or a student is missing.
    """
    chart = _known_chart(name)
    suffix = suffix_of(out)
    if suffix is None:
        raise UsageError(f"{out.name}: a chart is written as {', '.join(FORMATS)}; end the name so")
    gathered = gather_some(warehouse, settings, _relations(chart), as_of)
    chosen = {
        **chart.choices,
        **_student_choices(chart, gathered, student),
        **_checked(chart, choices),
    }
    notes = _held_to(chart, gathered, chosen)
    write_bytes(still(chart, rows_to_draw(chart, gathered, student), chosen, suffix, notes), out)
    return out


def _held_to(chart: Chart, gathered: Gathered, chosen: Mapping[str, Any]) -> list[str]:
    """What the groups of a chart are held to, a line for each set of standards; none where all are alike."""
    if chart.series is None or "panel" not in chart.choices:
        return []
    (rows,) = chart.rows.values()
    held: dict[str, set[str]] = {}
    for row in gathered[rows.relation]:
        if all(chosen[name] in (row[name], "all") for name in chosen if name in rows.columns):
            held.setdefault(row["standards"] or "", set()).add(row[chart.series])
    if len(held) < 2:
        return []
    told = [f"{', '.join(sorted(names))}: held to {standards}" for standards, names in held.items()]
    return [*sorted(told), "Lines held to different standards are not to be compared."]


def _known_chart(name: str) -> Chart:
    if name not in CHARTS:
        raise UsageError(f"there is no chart {name}{nearest(name, list(CHARTS))}")
    return CHARTS[name]


def _checked(chart: Chart, choices: Mapping[str, str] | None) -> dict[str, Any]:
    """The choices with their kinds; a name that the chart does not know is refused."""
    found: dict[str, Any] = {}
    for name, value in (choices or {}).items():
        if name not in chart.choices:
            known = ", ".join(chart.choices) or "none"
            raise UsageError(f"chart {chart.name} has no choice {name}; it has: {known}")
        found[name] = float(value) if isinstance(chart.choices[name], int) else value
    return found


def _relations(chart: Chart) -> list[str]:
    return ["page_students", *(rows.relation for rows in chart.rows.values())]


def rows_to_draw(
    chart: Chart, gathered: Gathered, student: str | None
) -> dict[str, list[dict[str, Any]]]:
    """The chart's rows, each with the columns it draws; of one student, or the cohort, where one is shown."""
    is_of_one = any(rows.of_student for rows in chart.rows.values())
    cohorts = {row["student_id"]: row["cohort"] for row in gathered["page_students"]}
    cohort = cohorts.get(student or "")
    return {
        name: [
            {column: row[column] for column in rows.columns}
            for row in (
                gathered.of(student or "", rows.relation)
                if rows.of_student
                else gathered[rows.relation]
            )
            if not is_of_one or "cohort" not in rows.columns or row["cohort"] == cohort
        ]
        for name, rows in chart.rows.items()
    }


def _student_choices(chart: Chart, gathered: Gathered, student: str | None) -> dict[str, Any]:
    """What naming a student sets: the student, the student's cohort, the latest maneuver."""
    if student is None:
        if any(rows.of_student for rows in chart.rows.values()):
            raise UsageError(f"chart {chart.name} shows one student: name one with --student")
        return {}
    cohorts = {row["student_id"]: row["cohort"] for row in gathered["page_students"]}
    if student not in cohorts:
        raise UsageError(f"there is no student {student}{nearest(student, list(cohorts))}")
    wanted: dict[str, Any] = {"student": student, "student_cohort": cohorts[student]}
    if "maneuver" in chart.choices:
        traced = gathered.of(student, TRACES)
        wanted["maneuver"] = traced[0]["maneuver_id"] if traced else ""
    return {name: value for name, value in wanted.items() if name in chart.choices}
