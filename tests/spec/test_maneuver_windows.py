"""maneuver_windows: assigned and inferred maneuvers of a log, side by side."""

import pyarrow as pa

from pipeline.schema.tables import TABLES
from tests.logs import log_inputs, samples
from tests.tables import rows_of

LOG = samples(400, 4, altitude_ft=lambda t: 3000 + 0 * t, heading_deg=lambda t: 90 + 0 * t)
TASK = {
    "session_id": "s1",
    "revision": 1,
    "task_no": 1,
    "start_s": 5.0,
    "end_s": 120.0,
    "kind": "level",
    "target_altitude_ft": 3100.0,
    "target_heading_deg": 80.0,
    "flown_by": "instructor",
}


def test_assigned_wins_and_the_open_time_is_searched() -> None:
    tasks = pa.Table.from_pylist([TASK], schema=TABLES["tasks"])
    rows = rows_of("maneuver_windows", **{**log_inputs(LOG), "stored_tasks": tasks})
    assert [(r["maneuver_id"], r["basis"], r["start_s"], r["end_s"]) for r in rows] == [
        ("s1.1.01", "assigned", 5, 120),
        ("s1.1.i01", "inferred", 120, 400),
    ]
    assigned, inferred = rows
    assert (assigned["target_altitude_ft"], inferred["target_altitude_ft"]) == (3100, 3000)
    assert (assigned["flown_by"], inferred["flown_by"]) == ("instructor", "student")


def test_times_are_milliseconds_too_and_the_gap_limit_is_rounded_down() -> None:
    [row] = rows_of("maneuver_windows", **log_inputs(LOG))
    assert (row["start_ms"], row["end_ms"], row["gap_limit_ms"]) == (0, 400_000, 1500)
    assert (row["device_id"], row["median_step_s"]) == ("D1", 0.25)
