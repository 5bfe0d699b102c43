"""The hold and settling figures as one lazy polars query."""

from typing import Literal

import polars as pl

from pipeline.store import Warehouse
from tests.bench.peer_loop import COLUMNS, EVENTS, HOLD_MS, MEAN_MS, WIDTHS

OWN = "maneuver_no"


def figures_by_polars(
    warehouse: Warehouse, engine: Literal["in-memory", "streaming"]
) -> pl.DataFrame:
    """A row per maneuver, the columns named as the SQL's."""
    tasks = _tasks(warehouse)
    placed = _placed(warehouse, tasks)
    names = tasks.select(OWN, "maneuver_id")
    parts = [*(_hold(placed, name) for name in WIDTHS), _settled(placed)]
    found = names
    for part in parts:
        found = found.join(part, on=OWN, how="left")
    return found.drop(OWN).collect(engine=engine)


def _tasks(warehouse: Warehouse) -> pl.LazyFrame:
    gaps = pl.scan_parquet(warehouse.table_files("sessions")[0]).select("session_id", "gap_limit_s")
    number = pl.col("task_no").cast(pl.String).str.zfill(2)
    return (
        pl.scan_parquet(warehouse.table_files("tasks")[0])
        .join(gaps, on="session_id")
        .with_columns(
            (pl.col("start_s") * 1000).round().cast(pl.Int32).alias("start_ms"),
            (pl.col("end_s") * 1000).round().cast(pl.Int32).alias("end_ms"),
            pl.concat_str("session_id", pl.lit("."), "revision", pl.lit("."), number).alias(
                "maneuver_id"
            ),
        )
        .sort("session_id", "start_ms")
        .with_row_index(OWN)
    )


def _placed(warehouse: Warehouse, tasks: pl.LazyFrame) -> pl.LazyFrame:
    """Every sample of a maneuver with its errors, its weight and the known step that leads to it."""
    channels = [pl.col(name).cast(pl.Float64) for name in COLUMNS[2:]]
    asked = tasks.select(
        *("session_id", OWN, "kind", "start_ms", "end_ms", "gap_limit_s"),
        *("target_altitude_ft", "target_heading_deg"),
    )
    step = pl.col("t_ms").diff()
    is_first = pl.col(OWN) != pl.col(OWN).shift(1, fill_value=-1)
    turned = _wrapped(pl.col("heading_deg").diff())
    begun = _wrapped(pl.col("heading_deg") - pl.col("target_heading_deg"))
    return (
        pl.scan_parquet(warehouse.sample_files()[0])
        .select("session_id", "t_ms", *channels)
        .join_asof(
            asked, left_on="t_ms", right_on="start_ms", by="session_id", check_sortedness=False
        )
        .filter(pl.col("t_ms") <= pl.col("end_ms"))
        .with_columns(
            pl.when(~is_first & (step <= pl.col("gap_limit_s") * 1000))
            .then(step.cast(pl.Float64))
            .alias("step"),
            (pl.col("altitude_ft") - pl.col("target_altitude_ft")).alias("altitude"),
            pl.when(is_first).then(begun).otherwise(turned).alias("turned"),
            pl.col("airspeed_kt").alias("airspeed"),
        )
        .with_columns(
            ((pl.col("step").fill_null(0) + pl.col("step").shift(-1).fill_null(0)) / 2000).alias(
                "weight"
            ),
            pl.col("turned").cum_sum().over(OWN).alias("heading"),
        )
    )


def _wrapped(degrees: pl.Expr) -> pl.Expr:
    return degrees - 360.0 * (degrees > 180) + 360.0 * (degrees <= -180)


def _hold(placed: pl.LazyFrame, name: str) -> pl.LazyFrame:
    unit, width = WIDTHS[name]
    value, weight = pl.col(name), pl.col("weight")
    binned = placed.select(
        OWN, "weight", value, ((value.abs() / width + 0.5).floor() * value.sign()).alias("bin")
    )
    if name == "airspeed":
        middles = _reached(binned, 0.5).rename({"key": "middle"})
        binned = binned.join(middles, on=OWN).with_columns(value - pl.col("middle") * width)
        binned = binned.with_columns(pl.col("bin") - pl.col("middle"))
    total = weight.sum()
    bias = (value * weight).sum() / total
    square = (value * value * weight).sum() / total
    sums = binned.group_by(OWN).agg(
        bias.alias(f"{name}_bias_{unit}"),
        (square - bias * bias).sqrt().alias(f"{name}_sd_{unit}"),
        square.sqrt().alias(f"{name}_rmse_{unit}"),
        ((value.abs() * weight).sum() / total).alias(f"{name}_mae_{unit}"),
        value.abs().max().alias(f"{name}_max_{unit}"),
    )
    held = _reached(binned.with_columns(pl.col("bin").abs()), 0.95)
    held = held.select(OWN, (pl.col("key") * width).alias(f"{name}_hold95_{unit}"))
    return sums.join(held, on=OWN)


def _reached(binned: pl.LazyFrame, share: float) -> pl.LazyFrame:
    """By maneuver the least bin up to which the weights come to `share` of all."""
    passed = pl.col("weight").cum_sum().over(OWN)
    needed = pl.col("weight").sum().over(OWN) * share * (1 - 1e-12)
    return (
        binned.group_by(OWN, "bin")
        .agg(pl.col("weight").sum())
        .sort(OWN, "bin")
        .filter(passed >= needed)
        .group_by(OWN)
        .agg(pl.col("bin").min().alias("key"))
    )


def _settled(placed: pl.LazyFrame) -> pl.LazyFrame:
    """Seconds until everything stays settled for the hold."""
    part = pl.col("step").is_null().cum_sum()
    until = pl.col("t_ms") + HOLD_MS
    coming = pl.when(~pl.col("is_held")).then("t_ms").backward_fill().over("part")
    return (
        placed.filter(pl.col("kind").is_in(EVENTS))
        .select(
            *(OWN, "t_ms", "start_ms", "step", "altitude", "pitch_control", "vertical_speed_fpm"),
            part.alias("part"),
        )
        .with_columns(
            (
                (_trailing_mean("pitch_control").abs() <= 0.05)
                & (_trailing_mean("vertical_speed_fpm").abs() <= 100)
                & (pl.col("altitude").abs() <= 100)
            ).alias("is_held")
        )
        .with_columns(coming.alias("coming"), pl.col("t_ms").last().over("part").alias("last"))
        .filter(
            (pl.col("coming").is_null() | (pl.col("coming") > until)) & (pl.col("last") >= until)
        )
        .group_by(OWN)
        .agg(((pl.col("t_ms").min() - pl.col("start_ms").first()) / 1000).alias("trim_settle_s"))
    )


def _trailing_mean(channel: str) -> pl.Expr:
    """The mean over the steps that end in the last 5 s of a part; the value itself where none does."""
    value, known = pl.col(channel), pl.col("step").fill_null(0)
    area = (known * (value + value.shift(1)) / 2).fill_null(0)
    window = f"{MEAN_MS}i"
    areas = area.rolling_sum_by("t_ms", window).over("part")
    spans = known.rolling_sum_by("t_ms", window).over("part")
    return pl.when(spans > 0).then(areas / spans).otherwise(value)
