"""session_breaks: jumps, pauses and long gaps of a log."""

from typing import Any

import numpy as np
import pyarrow as pa

from tests.logs import NO_LIMITS, Formula, log_inputs, ramp, samples, session
from tests.tables import rows_of

MOVING: dict[str, Any] = {
    "vertical_speed_fpm": lambda t: 30 * np.sin(t),
    "airspeed_kt": lambda t: 100 + np.sin(t),
}


def breaks(log: pa.Table) -> list[tuple[str, int, int]]:
    rows = rows_of("session_breaks", **log_inputs(log))
    return sorted((r["break_kind"], r["from_ms"], r["to_ms"]) for r in rows)


STEADY: dict[str, Any] = {
    "altitude_ft": lambda t: 3000 + 0 * t,
    "heading_deg": lambda t: 90 + 0 * t,
}


def test_a_steady_log_of_two_channels_has_no_break() -> None:
    assert breaks(samples(60, 4, **STEADY)) == []


def test_a_jump_in_altitude_is_a_break_between_two_samples() -> None:
    log = samples(60, 4, **{**STEADY, "altitude_ft": lambda t: np.where(t < 30, 3000.0, 5000.0)})
    assert breaks(log) == [("jump", 29750, 30000)]


def test_a_jump_of_heading_is_taken_the_short_way() -> None:
    north = samples(60, 4, **{**STEADY, "heading_deg": lambda t: np.where(t < 30, 355.0, 5.0)})
    turned = samples(60, 4, **{**STEADY, "heading_deg": lambda t: np.where(t < 30, 355.0, 55.0)})
    assert breaks(north) == []
    assert breaks(turned) == [("jump", 29750, 30000)]


def test_one_wrong_sample_is_no_jump() -> None:
    log = samples(60, 4, **{**STEADY, "altitude_ft": lambda t: np.where(t == 30, 0.0, 3000.0)})
    assert breaks(log) == []


def test_a_dive_of_6000_feet_per_minute_is_flown() -> None:
    log = samples(60, 1, **{**STEADY, "altitude_ft": ramp((10, 5000), (30, 3000))})
    assert breaks(log) == []


def test_a_gap_is_a_break_only_beyond_ten_seconds() -> None:
    assert breaks(samples(60, 1, without=[(20, 29)], **STEADY)) == []
    assert breaks(samples(60, 1, without=[(20, 30)], **STEADY)) == [("gap", 19000, 30000)]


def test_a_pause_is_when_nothing_at_all_moves() -> None:
    def held(formula: Formula) -> Formula:
        return lambda t: formula(np.minimum(t, np.maximum(20.0, t - 8)))

    moving: dict[str, Any] = {name: held(formula) for name, formula in MOVING.items()}
    log = samples(60, 4, **STEADY, **moving)
    assert breaks(log) == [("pause", 20000, 28000)]


def test_two_channels_are_too_few_to_tell_a_pause() -> None:
    assert breaks(samples(60, 4, **STEADY)) == []


def test_no_break_runs_from_one_session_into_the_next() -> None:
    first = samples(30, 1, session_id="s1", **STEADY)
    second = samples(30, 1, session_id="s2", **{**STEADY, "altitude_ft": lambda t: 9000 + 0 * t})
    rows = rows_of(
        "session_breaks",
        stored_samples=pa.concat_tables([first, second]),
        stored_sessions=pa.concat_tables([session(first), session(second)]),
        own_limits=NO_LIMITS,
    )
    assert rows == []


def test_no_break_runs_from_one_revision_of_a_session_into_the_next() -> None:
    """Both lie one after the other where batches were merged."""
    first = samples(30, 1, **STEADY)
    again = samples(30, 1, **{**STEADY, "altitude_ft": lambda t: 9000 + 0 * t})
    second = again.set_column(1, samples(1).schema.field(1), pa.array([2] * 30, pa.int32()))
    rows = rows_of(
        "session_breaks",
        stored_samples=pa.concat_tables([first, second]),
        stored_sessions=pa.concat_tables([session(first), session(second, revision=2)]),
        own_limits=NO_LIMITS,
    )
    assert rows == []


def test_a_jump_of_an_altitude_that_was_written_at_every_fourth_sample_is_seen() -> None:
    log = samples(60, 4, **{**STEADY, "altitude_ft": lambda t: np.where(t < 30.5, 3000.0, 5000.0)})
    every = pa.array(
        [v if i % 4 == 0 else None for i, v in enumerate(log["altitude_ft"].to_pylist())]
    )
    slower = log.set_column(
        log.column_names.index("altitude_ft"), "altitude_ft", every.cast(pa.float32())
    )
    rows = rows_of("session_breaks", **log_inputs(slower, sparse_channels=["altitude_ft"]))
    assert [(r["break_kind"], r["from_ms"], r["to_ms"]) for r in rows] == [("jump", 30000, 31000)]
    lone = every.to_pylist()
    lone[120:] = [
        None if v is None else (9000.0 if i == 0 else 3000.0) for i, v in enumerate(lone[120:])
    ]
    spoiled = log.set_column(
        log.column_names.index("altitude_ft"), "altitude_ft", pa.array(lone, pa.float32())
    )
    assert rows_of("session_breaks", **log_inputs(spoiled, sparse_channels=["altitude_ft"])) == []
