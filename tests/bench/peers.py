"""The hold and settling figures by other means, to compare their time and their values with the SQL's.

Run: python tests/bench/peers.py [SESSIONS]; 12 sessions of an hour at 10 Hz unless told. Each peer is written
as a competent user of its library would write it for this one purpose: dense channels, one gap limit, no
reasons, no bookkeeping. Every figure of every peer is checked against the SQL's before any time is
printed. One thread each; times are processor time, the lower of the rounds counts.
"""

import argparse
import os
import sys
import tempfile
from collections.abc import Callable
from functools import partial
from pathlib import Path
from time import process_time

os.environ["POLARS_MAX_THREADS"] = "1"

import numpy as np
import polars as pl

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from pipeline import relations
from pipeline.schema.tables import TABLES
from pipeline.store import Warehouse
from tests.bench.machine import machine
from tests.bench.measuring import bind, fly_school
from tests.bench.peer_loop import figures_by_loop
from tests.bench.peer_pandas import figures_by_pandas
from tests.bench.peer_polars import figures_by_polars

ROUNDS = 3
RELATIONS = ("altitude_hold", "heading_hold", "airspeed_hold", "trim_settling")
FIGURES = [
    f"{channel}_{figure}_{unit}"
    for channel, unit in (("altitude", "ft"), ("heading", "deg"), ("airspeed", "kt"))
    for figure in ("bias", "sd", "rmse", "mae", "max", "hold95")
]
ASK = f"""
    SELECT maneuver_id, {", ".join(FIGURES)}, trim_settle_s
    FROM altitude_hold
    INNER JOIN heading_hold USING (maneuver_id)
    INNER JOIN airspeed_hold USING (maneuver_id)
    LEFT JOIN trim_settling USING (maneuver_id)
    ORDER BY maneuver_id
"""


Work = Callable[[Warehouse], pl.DataFrame]


def figures_by_sql(warehouse: Warehouse) -> pl.DataFrame:
    """The figures as this project computes them; as much is built as they need."""
    con = relations.connect(warehouse.root)
    bound = bind(con, warehouse, is_searched=False)
    for kind in ("reviews", "roster"):
        relations.bind_files(con, f"stored_{kind}", [], TABLES[kind])
        bound.add(f"stored_{kind}")
    relations.build(con, RELATIONS, bound)
    return con.sql(ASK).pl()


def refuse_difference(name: str, ours: pl.DataFrame, theirs: pl.DataFrame) -> None:
    """Ends the run where a peer's figure is another one: then its time tells nothing."""
    theirs = theirs.sort("maneuver_id").select(ours.columns)
    if not ours["maneuver_id"].equals(theirs["maneuver_id"]):
        raise SystemExit(f"{name}: other maneuvers")
    for column in ours.columns[1:]:
        mine, other = ours[column].to_numpy(), theirs[column].cast(pl.Float64).to_numpy()
        if not np.allclose(mine, other, rtol=1e-7, atol=1e-6, equal_nan=True):
            worst = int(np.nanargmax(np.abs(mine - other)))
            where = ours["maneuver_id"][worst]
            raise SystemExit(f"{name}: {column} of {where}: {other[worst]}, the SQL {mine[worst]}")


def timed(work: Work, warehouse: Warehouse) -> float:
    """Processor time of one run."""
    began = process_time()
    work(warehouse)
    return process_time() - began


def compared(count: int) -> tuple[int, dict[str, float]]:
    """The maneuvers of `count` sessions and the processor time of the SQL ("sql") and of every peer.

    Every figure is compared first.
    """
    peers: dict[str, Work] = {
        "a pandas loop per maneuver": figures_by_loop,
        "pandas, vectorised": figures_by_pandas,
        "polars, lazy": partial(figures_by_polars, engine="in-memory"),
        "polars, lazy, streaming": partial(figures_by_polars, engine="streaming"),
    }
    with tempfile.TemporaryDirectory() as folder:
        warehouse = fly_school(Path(folder), count)
        ours = figures_by_sql(warehouse)
        for name, work in peers.items():
            refuse_difference(name, ours, work(warehouse))
        rounds = [
            {
                name: timed(work, warehouse)
                for name, work in {"sql": figures_by_sql, **peers}.items()
            }
            for _ in range(ROUNDS)
        ]
    return len(ours), {name: min(r[name] for r in rounds) for name in rounds[0]}


def main() -> None:
    """Check every peer, then print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("sessions", nargs="?", type=int, default=12)
    count = parser.parse_args().sessions
    maneuvers, least = compared(count)
    print(machine())
    ours = least.pop("sql")
    print(f"{count} sessions, {maneuvers} maneuvers; the SQL: {ours:.2f} s")
    for name, took in least.items():
        print(f"  {name:<28} {took:8.2f} s {took / ours:6.1f} x the SQL's time")


if __name__ == "__main__":
    main()
