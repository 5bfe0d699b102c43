"""Samples as measuring lays them side by side, in text: what readings are fed in their spec tests."""

from typing import Final

import pyarrow as pa

from tests.tables import table

_WHOLE = ("maneuver_no", "t_ms", "step_ms", "next_step_ms")
_CHANNELS = (
    "altitude_error_ft",
    "previous_altitude_error_ft",
    "heading_error_deg",
    "previous_heading_error_deg",
    "vertical_speed_fpm",
    "previous_vertical_speed_fpm",
    "airspeed_kt",
    "previous_airspeed_kt",
    "bank_deg",
    "pitch_deg",
    "pitch_control",
    "roll_control",
    "pitch_force",
    "pitch_trim",
    "power",
)
_SWITCHES = ("autopilot", "on_ground")

PLACED: Final = pa.schema(
    [
        *((name, pa.int32()) for name in _WHOLE),
        *((name, pa.float64()) for name in _CHANNELS),
        *((name, pa.bool_()) for name in _SWITCHES),
    ]
)
"""The columns of placed_samples."""

OBSERVED: Final = pa.schema(
    [
        ("maneuver_no", pa.int32()),
        ("channel", pa.string()),
        ("t_ms", pa.int32()),
        ("value", pa.float64()),
        ("previous_value", pa.float64()),
        ("step_ms", pa.int32()),
        ("next_step_ms", pa.int32()),
    ]
)
"""The columns of patchy_observations."""

NUMBERS: Final = """
    maneuver_no | maneuver_id | target_altitude_ft | target_heading_deg | start_ms | end_ms | gap_limit_ms
    1           | M1          | 4000               | 90                 | 0        | 10000  | 2500"""
"""maneuver_numbers of one maneuver, its number 1."""

NONE_PATCHY: Final = "maneuver_no | channel:text"
"""patchy_channels without a row."""


def placed(text: str = "") -> pa.Table:
    """placed_samples: the text's columns, nothing in the rest; maneuver 1 unless told."""
    return _filled(text, PLACED, {"maneuver_no": 1})


def patchy(text: str = "") -> pa.Table:
    """patchy_observations: the text's columns, nothing in the rest; maneuver 1 unless told."""
    return _filled(text, OBSERVED, {"maneuver_no": 1})


def _filled(text: str, schema: pa.Schema, usual: dict[str, int]) -> pa.Table:
    rows = table(text).to_pylist() if text else []
    return pa.Table.from_pylist(
        [{f.name: row.get(f.name, usual.get(f.name)) for f in schema} for row in rows],
        schema=schema,
    )


def in_steps(column: str, *stretches: str) -> str:
    """A text for `placed`: points `seconds value` of one channel, in known stretches parted by gaps."""
    lines = [f"t_ms | step_ms | next_step_ms | {column} | previous_{column}"]
    for stretch in stretches:
        points = [tuple(float(x) for x in p.split()) for p in stretch.split(",")]
        for i, (t, value) in enumerate(points):
            before = points[i - 1] if i else None
            after = points[i + 1] if i + 1 < len(points) else None
            step = f"{1000 * (t - before[0]):.0f}" if before else "-"
            next_step = f"{1000 * (after[0] - t):.0f}" if after else "-"
            previous = before[1] if before else "-"
            lines.append(f"{1000 * t:.0f} | {step} | {next_step} | {value} | {previous}")
    return "\n".join(lines)
