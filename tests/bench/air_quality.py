"""How well the air is told from a log: fly the invented school in half rough air, then compare.

Run: python tests/bench/air_quality.py [ROUNDS], each with another seed. What must be small is the share of
sessions in moderate or rough air that the log does not show: a flag rests on sessions taken for calm.
"""

import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import duckdb
import numpy as np
import polars as pl
import pyarrow as pa

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from pipeline.relations import bind_table, build, connect
from pipeline.schema.channels import CHANNELS
from pipeline.schema.tables import SAMPLES, SESSIONS
from sample_warehouse import timetable
from sample_warehouse.recorder import recorded_channels
from sample_warehouse.school import STORIES
from sample_warehouse.simulate import Flight, fly

ROUGH_SHARE = 0.5
VARIANTS: dict[str, tuple[str, ...]] = {
    "as logged": (),
    "vertical speed not logged": ("vertical_speed_fpm",),
    "pitch attitude not logged": ("pitch_deg",),
    "neither pitch attitude nor airspeed logged": ("pitch_deg", "airspeed_kt"),
}
TABLE = """
    SELECT air AS flown, detected_air AS told, COUNT(*) AS sessions,
        ROUND(MIN(air_shake), 2) AS shake_from, ROUND(MAX(air_shake), 2) AS shake_to
    FROM session_air
    INNER JOIN declared USING (session_id)
    GROUP BY air, detected_air
    ORDER BY LIST_POSITION(['smooth', 'light', 'moderate', 'rough'], air), told
"""
MISSED = """
    SELECT
        COUNT(*) FILTER (WHERE air IN ('moderate', 'rough')) AS rougher,
        COUNT(*) FILTER (WHERE air IN ('moderate', 'rough') AND NOT is_rougher) AS missed,
        COUNT(*) FILTER (WHERE air IN ('smooth', 'light')) AS calm,
        COUNT(*) FILTER (WHERE air IN ('smooth', 'light') AND is_rougher) AS taken_for_rougher
    FROM session_air
    INNER JOIN declared USING (session_id)
"""


def flights(seed: int) -> list[Flight]:
    """One round of the school's eight weeks in half rough air, numbered so that no two rounds clash."""
    timetable.SEED = seed
    stories = tuple(replace(story, rough_share=ROUGH_SHARE) for story in STORIES)
    planned = [replace(s, session_id=f"{seed}-{s.session_id}") for s in timetable.history(stories)]
    return fly(planned)


def samples_of(flight: Flight, without: Sequence[str]) -> pa.Table:
    """The flight's log as landing would store it, some channels left out."""
    recorded = recorded_channels(flight)
    rows = len(recorded["time_s"])
    columns = {
        c.name: pa.array(recorded[c.name]).cast(c.arrow_type)
        if c.name in recorded and c.name not in without
        else pa.nulls(rows, c.arrow_type)
        for c in CHANNELS
    }
    keys = {
        "session_id": [flight.session.session_id] * rows,
        "revision": np.ones(rows, dtype=np.int32),
        "t_ms": np.round(recorded["time_s"] * 1000).astype(np.int32),
    }
    return pa.table({**keys, **columns}, schema=SAMPLES)


def session_of(flight: Flight, log: pa.Table) -> dict[str, object]:
    """The flight's stored session row; the air is not declared."""
    return {
        "session_id": flight.session.session_id,
        "revision": 1,
        "student_id": flight.session.story.student_id,
        "session_date": flight.session.day,
        "device_id": flight.session.device.device_id,
        "median_step_s": 0.25,
        "channels": [c.name for c in CHANNELS if log[c.name].null_count < log.num_rows],
    }


def told(flown: Sequence[Flight], without: Sequence[str]) -> duckdb.DuckDBPyConnection:
    """A connection with `session_air` of the flights and `declared`, the air they were flown in."""
    logs = [samples_of(flight, without) for flight in flown]
    rows = [session_of(flight, log) for flight, log in zip(flown, logs, strict=True)]
    columns = {f.name: [row.get(f.name) for row in rows] for f in SESSIONS}
    sessions = pa.table({f.name: pa.array(columns[f.name], f.type) for f in SESSIONS})
    con = connect()
    bind_table(con, "stored_samples", pa.concat_tables(logs).combine_chunks())
    bind_table(con, "stored_sessions", sessions)
    bind_table(con, "sessions", sessions)
    nothing = pa.schema([("name", pa.string()), ("value", pa.float64())]).empty_table()
    bind_table(con, "own_limits", nothing)
    air = {
        "session_id": [f.session.session_id for f in flown],
        "air": [f.session.air for f in flown],
    }
    bind_table(con, "declared", pa.table(air))
    build(con, ["session_air"], {"stored_samples", "stored_sessions", "sessions", "own_limits"})
    return con


def main(arguments: list[str]) -> int:
    """Print the tables of all rounds together, one for each way of logging."""
    rounds = int(arguments[0]) if arguments else 3
    flown = [flight for seed in range(1, rounds + 1) for flight in flights(seed)]
    for variant, without in VARIANTS.items():
        con = told(flown, without)
        with pl.Config(tbl_rows=30, tbl_hide_column_data_types=True, tbl_width_chars=120):
            print(variant, con.sql(TABLE).pl(), con.sql(MISSED).pl(), sep="\n")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
