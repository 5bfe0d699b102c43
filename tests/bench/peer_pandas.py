"""The hold and settling figures with whole-column pandas."""

import numpy as np
import pandas as pd
import polars as pl

from pipeline.store import Warehouse
from tests.bench.peer_loop import COLUMNS, EVENTS, HOLD_MS, MEAN_MS, WIDTHS


def figures_by_pandas(warehouse: Warehouse) -> pl.DataFrame:
    """A row per maneuver, the columns named as the SQL's."""
    placed = _placed(warehouse)
    holds = [_hold(placed, name) for name in WIDTHS]
    events = placed[placed["kind"].isin(EVENTS)].copy()
    parts = [*holds, _settled(events)]
    for part in parts:
        part.index = part.index.astype(
            str
        )  # categories of unlike width cannot be laid side by side
    found = pd.concat(parts, axis=1).rename_axis("maneuver_id").reset_index()
    return pl.from_pandas(found)


def _placed(warehouse: Warehouse) -> pd.DataFrame:
    """Every sample of a maneuver with its errors, its weight and whether the step to it is known."""
    samples = pd.read_parquet(warehouse.sample_files()[0], columns=COLUMNS)
    samples["session_id"] = samples["session_id"].astype("category")
    samples["t_ms"] = samples["t_ms"].astype(np.int64)
    sessions = pd.read_parquet(warehouse.table_files("sessions")[0])[["session_id", "gap_limit_s"]]
    tasks = pd.read_parquet(warehouse.table_files("tasks")[0]).merge(sessions, on="session_id")
    tasks["session_id"] = tasks["session_id"].astype(samples["session_id"].dtype)
    tasks["maneuver_id"] = (
        tasks["session_id"].astype(str)
        + "."
        + tasks["revision"].astype(str)
        + "."
        + tasks["task_no"].astype(str).str.zfill(2)
    ).astype("category")
    tasks["start_ms"] = (tasks["start_s"] * 1000).round().astype(np.int64)
    tasks["end_ms"] = (tasks["end_s"] * 1000).round().astype(np.int64)
    placed = pd.merge_asof(
        samples.sort_values("t_ms", kind="stable"),
        tasks.drop(columns=["start_s", "end_s", "flown_by"]).sort_values("start_ms"),
        left_on="t_ms",
        right_on="start_ms",
        by="session_id",
    )
    placed = placed[placed["t_ms"] <= placed["end_ms"]]
    placed = placed.sort_values(["session_id", "t_ms"], kind="stable").reset_index(drop=True)
    for name in COLUMNS[2:]:
        placed[name] = placed[name].astype(np.float64)
    own = placed["maneuver_id"].cat.codes
    is_first = own.ne(own.shift())
    step = placed["t_ms"].diff().where(~is_first)
    placed["step"] = step.where(step <= placed["gap_limit_s"] * 1000)
    half = placed["step"].fillna(0) / 2000
    placed["weight"] = half + half.shift(-1, fill_value=0)
    placed["altitude"] = placed["altitude_ft"] - placed["target_altitude_ft"]
    turned = _wrapped(placed["heading_deg"].diff())
    begun = _wrapped(placed["heading_deg"] - placed["target_heading_deg"])
    placed["heading"] = turned.where(~is_first, begun).groupby(own).cumsum()
    placed["airspeed"] = placed["airspeed_kt"]
    return placed


def _wrapped(degrees: pd.Series) -> pd.Series:
    return degrees - 360.0 * (degrees > 180) + 360.0 * (degrees <= -180)


def _hold(placed: pd.DataFrame, name: str) -> pd.DataFrame:
    unit, width = WIDTHS[name]
    own, weight = placed["maneuver_id"], placed["weight"]
    bins = np.copysign(np.floor(placed[name].abs() / width + 0.5), placed[name])
    total = weight.groupby(own, observed=True).sum()
    middle = pd.Series(0.0, total.index)
    if name == "airspeed":
        middle = _reached(own, bins, weight, total / 2)
    at = own.map(middle).astype(np.float64)
    errors = placed[name] - at * width
    sums = pd.DataFrame(
        {
            "own": own,
            "bias": errors * weight,
            "mae": errors.abs() * weight,
            "square": errors**2 * weight,
        }
    )
    means = sums.groupby("own", observed=True).sum().div(total, axis=0)
    spread = (errors - own.map(means["bias"]).astype(np.float64)) ** 2 * weight
    return pd.DataFrame(
        {
            f"{name}_bias_{unit}": means["bias"],
            f"{name}_sd_{unit}": np.sqrt(spread.groupby(own, observed=True).sum() / total),
            f"{name}_rmse_{unit}": np.sqrt(means["square"]),
            f"{name}_mae_{unit}": means["mae"],
            f"{name}_max_{unit}": errors.abs().groupby(own, observed=True).max(),
            f"{name}_hold95_{unit}": width * _reached(own, (bins - at).abs(), weight, 0.95 * total),
        }
    )


def _reached(own: pd.Series, keys: pd.Series, weight: pd.Series, share: pd.Series) -> pd.Series:
    """By maneuver the least key up to which the weights come to `share`."""
    frame = pd.DataFrame({"own": own, "key": keys, "weight": weight})
    binned = frame.groupby(["own", "key"], observed=True)["weight"].sum().reset_index()
    passed = binned.groupby("own", observed=True)["weight"].cumsum()
    enough = passed >= binned["own"].map(share).astype(np.float64) * (1 - 1e-12)
    return binned[enough].groupby("own", observed=True)["key"].first()


def _settled(events: pd.DataFrame) -> pd.Series:
    """Seconds until everything stays settled for the hold, by maneuver."""
    part = events["step"].isna().cumsum()
    events = events.assign(part=part, moment=pd.to_datetime(events["t_ms"], unit="ms"))
    is_held = (
        (_trailing_mean(events, "pitch_control").abs() <= 0.05)
        & (_trailing_mean(events, "vertical_speed_fpm").abs() <= 100)
        & (events["altitude"].abs() <= 100)
    )
    coming = events["t_ms"].where(~is_held).groupby(part).bfill()
    last = events.groupby(part)["t_ms"].transform("last")
    until = events["t_ms"] + HOLD_MS
    found = events[(coming.isna() | (coming > until)) & (last >= until)]
    first = found.groupby("maneuver_id", observed=True)[["t_ms", "start_ms"]].first()
    return ((first["t_ms"] - first["start_ms"]) / 1000).rename("trim_settle_s")


def _trailing_mean(events: pd.DataFrame, channel: str) -> pd.Series:
    """The mean over the steps that end in the last 5 s of a part; the value itself where none does."""
    same = events["part"].eq(events["part"].shift())
    known = events["step"].where(same, 0.0)
    area = known * (events[channel] + events[channel].shift()).where(same, 0.0) / 2
    frame = pd.DataFrame(
        {"part": events["part"], "moment": events["moment"], "area": area, "known": known}
    )
    rolled = frame.groupby("part").rolling(f"{MEAN_MS}ms", on="moment")[["area", "known"]].sum()
    rolled.index = events.index
    mean = rolled["area"] / rolled["known"]
    return mean.where(rolled["known"] > 0, events[channel])
