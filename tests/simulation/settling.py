"""Students who trim sooner or later after level-offs: how often the SQL would call one slow."""

from datetime import UTC, date, datetime, time, timedelta

import numpy as np
import pyarrow as pa

from tests.simulation.world import DAYS
from tests.tables import build_over

START = date(2026, 1, 5)
SCHEMA = pa.schema(
    [
        ("maneuver_id", pa.string()),
        ("figure", pa.string()),
        ("student_id", pa.string()),
        ("device_class", pa.string()),
        ("session_id", pa.string()),
        ("session_date", pa.date32()),
        ("started_at", pa.timestamp("us", tz="UTC")),
        ("start_s", pa.float64()),
        ("time_s", pa.float64()),
        ("is_settled", pa.bool_()),
    ]
)


def slow_students(
    median_s: float, students: int, seed: int, *, day_sd: float, within_sd: float = 0.6
) -> tuple[float, float]:
    """Times per student-month that a student becomes slow, and the share of students who ever do.

    One to four sessions a week for twelve weeks, one to five events each, followed for 50 to 110 s;
    times are log-normal about `median_s`. Judged by `settling_shares` as it stands.
    """
    table = pa.Table.from_pylist(
        _events(median_s, students, seed, day_sd, within_sd), schema=SCHEMA
    )
    con = build_over(["settling_shares"], followed_events=table)
    began, ever = con.execute(
        "WITH looks AS (SELECT student_id, is_slow, LAG(is_slow, 1, FALSE) OVER "
        "(PARTITION BY student_id ORDER BY session_date) AS was_slow FROM settling_shares) "
        "SELECT COUNT(*) FILTER (WHERE is_slow AND NOT was_slow), "
        "COUNT(DISTINCT student_id) FILTER (WHERE is_slow) FROM looks"
    ).fetchall()[0]
    return began / (students * DAYS / 30), ever / students


def _events(
    median_s: float, students: int, seed: int, day_sd: float, within_sd: float
) -> list[dict[str, object]]:
    rng = np.random.default_rng(seed)
    rows: list[dict[str, object]] = []
    for student in range(students):
        days = np.flatnonzero(rng.random(DAYS) < rng.uniform(1, 4) / 7)
        for day in days:
            count = int(rng.integers(1, 6))
            shift = rng.normal(0, day_sd)
            taken = median_s * np.exp(shift + rng.normal(0, within_sd, count))
            followed = rng.uniform(50, 110, count)
            on = START + timedelta(days=int(day))
            rows += [
                {
                    "maneuver_id": f"{student}-{day}-{i}",
                    "figure": "settled or set",
                    "student_id": f"S{student:04d}",
                    "device_class": "simulator",
                    "session_id": f"S{student:04d}-{day:02d}",
                    "session_date": on,
                    "started_at": datetime.combine(on, time(9), UTC),
                    "start_s": float(i),
                    "time_s": float(min(taken[i], followed[i])),
                    "is_settled": bool(taken[i] <= followed[i]),
                }
                for i in range(count)
            ]
    return rows
