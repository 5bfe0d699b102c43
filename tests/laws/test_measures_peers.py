"""The hold and settling figures by pandas and by polars are the SQL's."""

from functools import partial
from pathlib import Path

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq
import pytest

from pipeline.schema.tables import SAMPLES
from pipeline.store import Warehouse, write_parquet
from tests.bench.measuring import fly_school
from tests.bench.peer_loop import figures_by_loop
from tests.bench.peer_pandas import figures_by_pandas
from tests.bench.peer_polars import figures_by_polars
from tests.bench.peers import Work, figures_by_sql, refuse_difference

CALMER = [
    ("altitude_ft", 4000.0, 0.5),
    ("vertical_speed_fpm", 0.0, 0.3),
    ("pitch_control", 0.0, 0.5),
]
EVENTS = 2
PEERS: dict[str, Work] = {
    "a loop": figures_by_loop,
    "pandas": figures_by_pandas,
    "polars": partial(figures_by_polars, engine="in-memory"),
}


def calm_school(root: Path) -> Warehouse:
    """One session of the bench, flown so calmly that some events settle and others do not."""
    warehouse = fly_school(root, 1)
    [path] = warehouse.sample_files()
    samples = pq.read_table(path)
    for name, middle, share in CALMER:
        values = pc.cast(samples[name], pa.float64())
        calmer = pc.add(pc.multiply(pc.subtract(values, middle), share), middle)
        place = samples.schema.get_field_index(name)
        samples = samples.set_column(place, SAMPLES.field(name), pc.cast(calmer, pa.float32()))
    write_parquet(samples, path, {"kind": "samples"})
    return warehouse


@pytest.mark.parametrize("name", PEERS)
def test_a_peer_gives_the_same_figures(name: str, tmp_path: Path) -> None:
    warehouse = calm_school(tmp_path)
    ours = figures_by_sql(warehouse)
    assert 1 <= ours["trim_settle_s"].count() < EVENTS
    refuse_difference(name, ours, PEERS[name](warehouse))


def test_a_figure_that_differs_is_refused(tmp_path: Path) -> None:
    ours = figures_by_sql(fly_school(tmp_path, 1))
    other = ours.with_columns(ours["altitude_sd_ft"] + 0.01)
    with pytest.raises(SystemExit, match="altitude_sd_ft"):
        refuse_difference("another", ours, other)
