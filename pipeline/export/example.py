"""Make the figures of one chart from this export alone, once with Polars and once with DuckDB, and
compare.

Run it in the folder of the export: python example.py. It needs polars and duckdb, nothing else.
Chart: how closely each cohort held week by week (median, middle half, share that met the standard);
with rows of single events also how soon the aeroplane was trimmed (Kaplan-Meier), censored events
counted as censored.
"""

from __future__ import annotations

import sys
from pathlib import Path

import duckdb
import polars as pl

MISSING = ["", "(withheld)"]
KEYS = ["aspect", "device_class", "standard_id", "basis", "cohort", "week_no"]
FIGURES = ["student_count", "median", "q1", "q3", "met_share"]


def cohort_weeks(data: Path) -> tuple[pl.DataFrame, pl.DataFrame]:
    """The weekly figures of each cohort, by Polars and by DuckDB."""
    if (data / "cells.csv").exists():
        return _weeks_from_cells(data)
    return _weeks_from_students(data)


def _weeks_from_cells(data: Path) -> tuple[pl.DataFrame, pl.DataFrame]:
    cells = pl.read_csv(data / "cells.csv", null_values=MISSING, infer_schema_length=None)
    shown = cells.filter((pl.col("cell_level") == "week") & ~pl.col("is_withheld"))
    query = f"""
        SELECT {", ".join(KEYS + FIGURES)} FROM '{data / "cells.parquet"}'
        WHERE cell_level = 'week' AND NOT is_withheld ORDER BY ALL
    """
    return shown.select(KEYS + FIGURES).sort(KEYS), duckdb.connect().sql(query).pl()


def _weeks_from_students(data: Path) -> tuple[pl.DataFrame, pl.DataFrame]:
    weeks = pl.read_csv(data / "student_weeks.csv", null_values=MISSING, infer_schema_length=None)
    ratio = pl.col("tolerance_ratio").log()
    figures = weeks.group_by(KEYS).agg(
        student_count=pl.col("student_code").n_unique(),
        median=ratio.median().exp().round(3),
        q1=ratio.quantile(0.25, "linear").exp().round(3),
        q3=ratio.quantile(0.75, "linear").exp().round(3),
        met_share=pl.col("is_met").mean().round(4),
    )
    query = f"""
        SELECT {", ".join(KEYS)}, COUNT(DISTINCT student_code) AS student_count,
            ROUND(EXP(MEDIAN(LN(tolerance_ratio))), 3) AS median,
            ROUND(EXP(QUANTILE_CONT(LN(tolerance_ratio), 0.25)), 3) AS q1,
            ROUND(EXP(QUANTILE_CONT(LN(tolerance_ratio), 0.75)), 3) AS q3,
            ROUND(AVG(CAST(is_met AS INTEGER)), 4) AS met_share
        FROM '{data / "student_weeks.parquet"}' GROUP BY ALL
    """
    return figures.sort(KEYS), duckdb.connect().sql(query).pl().sort(KEYS)


def survival(data: Path) -> tuple[pl.DataFrame, pl.DataFrame]:
    """The share not yet trimmed after each event time, by cohort and figure, by Polars and by
    DuckDB.
    """
    events = pl.read_csv(data / "events.csv", null_values=MISSING, infer_schema_length=None)
    group = ["cohort", "device_class", "basis", "figure"]
    times = (
        events.filter(pl.col("is_in_curves"))
        .group_by([*group, "time_s"])
        .agg(ended=pl.len(), settled=pl.col("is_event").sum())
        .sort([*group, "time_s"])
    )
    at_risk = pl.col("ended").cum_sum(reverse=True).over(group)
    left = (1 - pl.col("settled") / at_risk).cum_prod().over(group)
    by_polars = times.select(*group, "time_s", survival=left.round(4))
    keys = ", ".join(group)
    query = f"""
        WITH times AS (
            SELECT {keys}, time_s, COUNT(*) AS ended, COUNT(*) FILTER (WHERE is_event) AS settled
            FROM '{data / "events.parquet"}' WHERE is_in_curves GROUP BY ALL
        ), risks AS (
            SELECT *, SUM(ended) OVER (PARTITION BY {keys} ORDER BY time_s DESC) AS at_risk FROM times
        )
        SELECT {keys}, time_s, ROUND(PRODUCT(1 - settled / at_risk) OVER (
            PARTITION BY {keys} ORDER BY time_s), 4) AS survival
        FROM risks ORDER BY cohort NULLS FIRST, device_class, basis, figure, time_s
    """
    return by_polars, duckdb.connect().sql(query).pl()


def is_same(one: pl.DataFrame, other: pl.DataFrame) -> bool:
    """Whether two tables hold the same figures, to the last digit that is exported."""
    if one.shape != other.shape:
        return False
    numbers = [n for n, kind in one.schema.items() if kind.is_float()]
    exact = [n for n in one.columns if n not in numbers]
    near = all(((one[n] - other[n]).abs().fill_null(0) < 0.0015).all() for n in numbers)
    return near and all(
        one[n].cast(pl.String).equals(other[n].cast(pl.String), null_equal=True) for n in exact
    )


def main(folder: Path) -> int:
    """Print the figures; 1 where the two ways do not agree."""
    data = folder / "data"
    results = {}
    if (data / "cells.csv").exists() or (data / "student_weeks.csv").exists():
        results["how closely the cohorts hold"] = cohort_weeks(data)
    if (data / "events.csv").exists():
        results["how soon it is trimmed"] = survival(data)
    pl.Config.set_tbl_rows(40)
    for chart, (by_polars, by_duckdb) in results.items():
        print(f"{chart}:\n{by_polars}")  # noqa: T201 (a script for the reader of an export)
        if not is_same(by_polars, by_duckdb):
            print("Polars and DuckDB do not agree", file=sys.stderr)  # noqa: T201
            return 1
    return 0


if __name__ == "__main__":
    raise SystemExit(main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent))
