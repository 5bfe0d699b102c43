"""How well maneuvers are found in logs without tasks: strip the tasks of flights, search, compare.

Run: python tests/bench/inference_quality.py [WAREHOUSE]; without one the invented school is flown anew.
An assigned maneuver counts as found when one of its kind was told that shares half of the time that either
takes (of a turn: half of the shorter of the two, for a turn's task lasts until the student is on the
heading). Only what was told inside tasks counts as told.
"""

import sys
import tempfile
from pathlib import Path

import duckdb
import polars as pl

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from pipeline.reading import bind_settings, bind_store, school_settings
from pipeline.relations import build, connect
from pipeline.schema.channels import CHANNELS, REQUIRED_CHANNELS
from pipeline.schema.tables import TABLES
from pipeline.store.warehouse import Warehouse
from sample_warehouse.make import make_warehouse
from sample_warehouse.school import STORIES

ALL = tuple(channel.name for channel in CHANNELS)
WITHOUT_POWER = tuple(name for name in ALL if name != "power")
VARIANTS: dict[str, tuple[tuple[str, ...], str, str]] = {
    "as logged (4 Hz)": (ALL, "altitude_ft", "TRUE"),
    "1 Hz": (ALL, "altitude_ft", "t_ms % 1000 = 0"),
    "power not logged": (WITHOUT_POWER, "altitude_ft", "TRUE"),
    "altitude, heading and time alone": (REQUIRED_CHANNELS, "altitude_ft", "TRUE"),
    "the same at 1 Hz, altitude in steps of 25 ft": (
        REQUIRED_CHANNELS,
        "CAST(25 * ROUND(altitude_ft / 25) AS FLOAT)",
        "t_ms % 1000 = 0",
    ),
    "5 s lost in every 45 s": (ALL, "altitude_ft", "t_ms % 45000 >= 5000"),
}
ASKED = """
    SELECT t.*, s.student_id
    FROM stored_tasks AS t INNER JOIN stored_sessions AS s USING (session_id, revision)
"""
HITS = """
    CREATE OR REPLACE TABLE hits AS
    SELECT a.*, f.maneuver_id, f.start_s AS found_start_s, f.end_s AS found_end_s,
        f.target_altitude_ft - a.target_altitude_ft AS altitude_off_ft,
        180 - ABS(180 - ABS(f.target_heading_deg - a.target_heading_deg % 360)) AS heading_off_deg
    FROM asked AS a
    INNER JOIN inferred_maneuvers AS f ON a.session_id = f.session_id AND a.kind = f.kind
    WHERE LEAST(a.end_s, f.end_s) - GREATEST(a.start_s, f.start_s) >= 0.5 * CASE
        WHEN a.kind = 'turn' THEN LEAST(a.end_s - a.start_s, f.end_s - f.start_s)
        ELSE GREATEST(a.end_s, f.end_s) - LEAST(a.start_s, f.start_s)
    END
"""
TOLD = """
    CREATE OR REPLACE TABLE told AS
    SELECT f.*, s.student_id, f.maneuver_id IN (SELECT maneuver_id FROM hits) AS is_right
    FROM inferred_maneuvers AS f
    INNER JOIN stored_sessions AS s ON f.session_id = s.session_id AND f.revision = s.revision
    WHERE f.end_s - f.start_s < 2 * (
        SELECT SUM(GREATEST(LEAST(a.end_s, f.end_s) - GREATEST(a.start_s, f.start_s), 0))
        FROM asked AS a WHERE a.session_id = f.session_id
    )
"""
TABLE = """
    WITH wanted AS (
        SELECT {by}, COUNT(*) AS asked,
            COUNT(*) FILTER (WHERE (session_id, task_no) IN (SELECT (session_id, task_no) FROM hits)) AS found
        FROM asked GROUP BY {by}
    ),
    given AS (
        SELECT {by}, COUNT(*) AS told, COUNT(*) FILTER (WHERE is_right) AS rightly FROM told GROUP BY {by}
    ),
    edges AS (
        SELECT {by},
            MEDIAN(found_start_s - start_s) AS start_off_s,
            QUANTILE_CONT(ABS(found_start_s - start_s), 0.9) AS start_90_s,
            MEDIAN(found_end_s - end_s) AS end_off_s,
            QUANTILE_CONT(ABS(found_end_s - end_s), 0.9) AS end_90_s,
            MEDIAN(ABS(altitude_off_ft)) AS altitude_off_ft,
            MEDIAN(heading_off_deg) AS heading_off_deg
        FROM hits GROUP BY {by}
    )
    SELECT {by}, asked, ROUND(found / asked, 2) AS recall, told, ROUND(rightly / told, 2) AS precision,
        ROUND(start_off_s, 1) AS start_off_s, ROUND(start_90_s, 1) AS start_90_s,
        ROUND(end_off_s, 1) AS end_off_s, ROUND(end_90_s, 1) AS end_90_s,
        ROUND(altitude_off_ft) AS altitude_off_ft, ROUND(heading_off_deg, 1) AS heading_off_deg
    FROM wanted LEFT JOIN given USING ({by}) LEFT JOIN edges USING ({by}) ORDER BY {by}
"""
CALIBRATION = """
    SELECT kind, evidence, MIN(confidence) AS stated, COUNT(*) AS told,
        ROUND(AVG(CAST(is_right AS INTEGER)), 2) AS precision
    FROM told GROUP BY kind, evidence ORDER BY kind, evidence
"""


def searched(warehouse: Warehouse, variant: str) -> duckdb.DuckDBPyConnection:
    """A connection with `asked` (the tasks), `hits` and `told` of one way of logging the same flights."""
    channels, altitude, kept_rows = VARIANTS[variant]
    con = connect(warehouse.root)
    bound = bind_store(con, warehouse) | bind_settings(con, school_settings(warehouse))
    con.register("asked", con.sql(ASKED).to_arrow_table())
    con.register("stored_tasks", TABLES["tasks"].empty_table())
    columns = ", ".join(
        f"{altitude if c.name == 'altitude_ft' else c.name} AS {c.name}"
        if c.name in channels
        else f"CAST(NULL AS {'FLOAT' if c.is_number else 'BOOLEAN'}) AS {c.name}"
        for c in CHANNELS
    )
    samples = (
        f"SELECT session_id, revision, t_ms, {columns} FROM stored_samples WHERE {kept_rows} "
        "ORDER BY session_id, revision, t_ms"
    )
    con.register("stored_samples", con.sql(samples).to_arrow_table())
    build(con, ["inferred_maneuvers"], bound)
    con.execute(HITS)
    con.execute(TOLD)
    return con


def by_story(con: duckdb.DuckDBPyConnection) -> pl.DataFrame:
    """The table by student, with each student's story in words."""
    stories = pl.DataFrame(
        {"student_id": [s.student_id for s in STORIES], "story": [s.story for s in STORIES]}
    )
    return con.sql(TABLE.format(by="student_id")).pl().join(stories, on="student_id", how="left")


def report(warehouse: Warehouse) -> None:
    """Print every table."""
    with pl.Config(
        tbl_rows=60,
        tbl_cols=20,
        tbl_width_chars=200,
        tbl_hide_column_data_types=True,
        fmt_str_lengths=40,
    ):
        for variant in VARIANTS:
            con = searched(warehouse, variant)
            print(f"{variant}, by kind", con.sql(TABLE.format(by="kind")).pl(), sep="\n")
            print(f"{variant}, stated confidence", con.sql(CALIBRATION).pl(), sep="\n")
            if variant == next(iter(VARIANTS)):
                print(f"{variant}, by student", by_story(con), sep="\n")


def main(arguments: list[str]) -> int:
    """Report on the warehouse named, or on the invented school."""
    if arguments:
        report(Warehouse(Path(arguments[0])))
        return 0
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch) / "warehouse"
        make_warehouse(folder)
        report(Warehouse(folder))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
