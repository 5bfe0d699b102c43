"""The hold and settling figures by a loop over maneuvers, numpy within each."""

from collections.abc import Iterator
from typing import Any

import numpy as np
import pandas as pd
import polars as pl
from numpy.typing import NDArray

from pipeline.store import Warehouse

Floats = NDArray[np.float64]
WIDTHS = {"altitude": ("ft", 0.25), "heading": ("deg", 0.05), "airspeed": ("kt", 0.05)}
COLUMNS = [
    *("session_id", "t_ms", "altitude_ft", "heading_deg", "airspeed_kt", "vertical_speed_fpm"),
    "pitch_control",
]
EVENTS = ("level_off", "power_change")
MEAN_MS, HOLD_MS = 5_000, 20_000


def figures_by_loop(warehouse: Warehouse) -> pl.DataFrame:
    """A row per maneuver, the columns named as the SQL's."""
    samples = pd.read_parquet(warehouse.sample_files()[0], columns=COLUMNS)
    sessions = pd.read_parquet(warehouse.table_files("sessions")[0])
    tasks = pd.read_parquet(warehouse.table_files("tasks")[0])
    gaps = dict(zip(sessions["session_id"], sessions["gap_limit_s"], strict=True))
    rows = []
    for session_id, flown in samples.groupby("session_id", sort=False, observed=True):
        channels = {name: flown[name].to_numpy(np.float64) for name in COLUMNS[2:]}
        t_ms = flown["t_ms"].to_numpy(np.int64)
        gap_ms = gaps[session_id] * 1000
        own = tasks[tasks["session_id"] == session_id]
        rows += [_figures(task, t_ms, channels, gap_ms) for task in own.itertuples()]
    return pl.from_dicts(rows, infer_schema_length=None)


def _figures(task: Any, t_ms: Any, channels: dict[str, Floats], gap_ms: float) -> dict[str, Any]:  # noqa: ANN401
    edges = round(task.start_s * 1000), round(task.end_s * 1000)
    span = slice(np.searchsorted(t_ms, edges[0], "left"), np.searchsorted(t_ms, edges[1], "right"))
    t = t_ms[span]
    inside = {name: values[span] for name, values in channels.items()}
    altitude = inside["altitude_ft"] - task.target_altitude_ft
    turns = _wrapped(np.diff(inside["heading_deg"]))
    first = _wrapped(inside["heading_deg"][:1] - task.target_heading_deg)
    heading = np.concatenate((first, first + np.cumsum(turns)))
    is_known = np.diff(t) <= gap_ms
    half = np.where(is_known, np.diff(t), 0) / 2000
    weights = np.concatenate((half, [0.0])) + np.concatenate(([0.0], half))
    held = {"altitude": altitude, "heading": heading, "airspeed": inside["airspeed_kt"]}
    row = {
        "maneuver_id": f"{task.session_id}.{task.revision}.{task.task_no:02d}",
        "trim_settle_s": None,
        **dict(kv for name, values in held.items() for kv in _hold(name, values, weights)),
    }
    if task.kind in EVENTS:
        speed, control = inside["vertical_speed_fpm"], inside["pitch_control"]
        row["trim_settle_s"] = _settled(edges[0], t, altitude, speed, control, is_known)
    return row


def _wrapped(degrees: Floats) -> Floats:
    return degrees - 360 * (degrees > 180) + 360 * (degrees <= -180)


def _hold(name: str, values: Floats, weights: Floats) -> Iterator[tuple[str, float]]:
    unit, width = WIDTHS[name]
    bins = np.copysign(np.floor(np.abs(values) / width + 0.5), values)
    total = weights.sum()
    middle = _reached(bins, weights, total / 2) if name == "airspeed" else 0.0
    errors = values - middle * width
    bias = (errors * weights).sum() / total
    yield f"{name}_bias_{unit}", bias
    yield f"{name}_sd_{unit}", np.sqrt((weights * (errors - bias) ** 2).sum() / total)
    yield f"{name}_rmse_{unit}", np.sqrt((weights * errors**2).sum() / total)
    yield f"{name}_mae_{unit}", (weights * np.abs(errors)).sum() / total
    yield f"{name}_max_{unit}", np.abs(errors).max()
    yield f"{name}_hold95_{unit}", width * _reached(np.abs(bins - middle), weights, 0.95 * total)


def _reached(keys: Floats, weights: Floats, share: float) -> float:
    """The least key up to which the weights come to `share`."""
    order = np.argsort(keys, kind="stable")
    place = np.searchsorted(np.cumsum(weights[order]), share * (1 - 1e-12))
    return float(keys[order[min(int(place), len(order) - 1)]])


def _settled(
    start_ms: int,
    t: NDArray[np.int64],
    altitude: Floats,
    speed: Floats,
    control: Floats,
    is_known: NDArray[np.bool_],
) -> float | None:
    """Seconds until everything stays settled for the hold; no stretch goes across a gap."""
    cuts = np.flatnonzero(~is_known) + 1
    for part in np.split(np.arange(len(t)), cuts):
        is_held = (
            (np.abs(_trailing_mean(t[part], control[part])) <= 0.05)
            & (np.abs(_trailing_mean(t[part], speed[part])) <= 100)
            & (np.abs(altitude[part]) <= 100)
        )
        refused = np.append(t[part][~is_held], np.iinfo(np.int64).max)
        coming = refused[np.searchsorted(t[part][~is_held], t[part])]
        is_settled = (coming > t[part] + HOLD_MS) & (t[part][-1] >= t[part] + HOLD_MS)
        if is_settled.any():
            return float(t[part][is_settled.argmax()] - start_ms) / 1000
    return None


def _trailing_mean(t: NDArray[np.int64], values: Floats) -> Floats:
    """The mean over the steps that end in the last MEAN_MS; the value itself where none does."""
    areas = np.concatenate(([0.0], np.cumsum(np.diff(t) * (values[1:] + values[:-1]) / 2)))
    since = np.searchsorted(t, t - MEAN_MS, "right") - 1
    since = np.maximum(since, 0)
    span = t - t[since]
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(span > 0, (areas - areas[since]) / span, values)
