"""A simulated cohort as the relation `session_figures`, so that the real SQL can judge it."""

from datetime import UTC, date, datetime, time, timedelta

import pyarrow as pa

from tests.simulation.world import Cohorts

START = date(2026, 1, 5)
FIGURES = pa.schema(
    [
        ("session_id", pa.string()),
        ("aspect", pa.string()),
        ("student_id", pa.string()),
        ("cohort", pa.string()),
        ("session_date", pa.date32()),
        ("started_at", pa.timestamp("us", tz="UTC")),
        ("device_id", pa.string()),
        ("device_class", pa.string()),
        ("stratum", pa.string()),
        ("standard_id", pa.string()),
        ("tolerance", pa.float64()),
        ("unit", pa.string()),
        ("level_count", pa.int64()),
        ("maneuver_count", pa.int64()),
        ("tolerance_ratio", pa.float64()),
        ("ln_ratio", pa.float64()),
        ("ln_squares", pa.float64()),
        ("neutral_variance", pa.float64()),
        ("is_counted", pa.bool_()),
        ("session_no", pa.int64()),
    ]
)


def session_figures(c: Cohorts, cohort: int, aspect: str = "altitude") -> pa.Table:
    """One cohort's sessions, as the rule takes them; student and session codes tell the places."""
    rows = []
    for student, sessions in enumerate(c.counts[cohort]):
        for place in range(sessions):
            at = (cohort, student, place)
            day = START + timedelta(days=int(c.day[at]))
            rows.append(
                {
                    "session_id": session_code(student, place),
                    "aspect": aspect,
                    "student_id": f"S{student:02d}",
                    "cohort": "c",
                    "session_date": day,
                    "started_at": datetime.combine(day, time(9), UTC),
                    "device_id": f"D{c.device[at]}",
                    "device_class": "simulator",
                    "stratum": "simulator",
                    "standard_id": "first-lessons",
                    "tolerance": 200.0,
                    "unit": "ft",
                    "level_count": int(c.maneuvers[at]),
                    "maneuver_count": int(c.maneuvers[at]),
                    "tolerance_ratio": 1.0,
                    "ln_ratio": float(c.figure[at]),
                    "ln_squares": float(c.squares[at]),
                    "neutral_variance": 0.0,
                    "is_counted": True,
                    "session_no": place + 1,
                }
            )
    return pa.Table.from_pylist(rows, schema=FIGURES)


def session_code(student: int, place: int) -> str:
    """The session of one student at one place, from 0."""
    return f"S{student:02d}-{place + 1:02d}"
