"""The channels that a log may hold: unit, sign, range, need. One row here is one column of
`samples`.
"""

from dataclasses import dataclass
from typing import Final

import pyarrow as pa


@dataclass(frozen=True)
class Channel:
    """One quantity of a log. A value outside `low` .. `high` (both inside) is no measurement.

    `sign` says what a positive value means; `low` and `high` are None for true/false channels.
    """

    name: str
    unit: str
    low: float | None
    high: float | None
    is_required: bool
    sign: str
    meaning: str
    arrow_type: pa.DataType

    @property
    def is_number(self) -> bool:
        """Whether the channel is a number (else it is true/false)."""
        return self.low is not None


def _number(
    name: str,
    unit: str,
    low: float,
    high: float,
    meaning: str,
    sign: str = "",
    is_required: bool = False,
) -> Channel:
    return Channel(name, unit, low, high, is_required, sign, meaning, pa.float32())


def _switch(name: str, meaning: str) -> Channel:
    return Channel(name, "true/false", None, None, False, "", meaning, pa.bool_())


CHANNELS: Final[tuple[Channel, ...]] = (
    _number("altitude_ft", "ft", -2_000, 60_000, "indicated altitude", is_required=True),
    _number("heading_deg", "deg", -360, 720, "magnetic heading; 360 is 0", is_required=True),
    _number("vertical_speed_fpm", "ft/min", -12_000, 12_000, "vertical speed as logged", "+ up"),
    _number("airspeed_kt", "kt", 0, 700, "indicated airspeed"),
    _number("pitch_deg", "deg", -90, 90, "pitch attitude", "+ nose up"),
    _number("bank_deg", "deg", -180, 180, "bank angle", "+ right wing down"),
    _number(
        "pitch_control", "travel", -1.05, 1.05, "pitch control, part of full travel", "+ nose up"
    ),
    _number("roll_control", "travel", -1.05, 1.05, "roll control, part of full travel", "+ right"),
    _number("pitch_force", "N", -1_000, 1_000, "force on the pitch control", "+ pull"),
    _number("pitch_trim", "travel", -1.05, 1.05, "pitch trim, part of full travel", "+ nose up"),
    _number("roll_trim", "travel", -1.05, 1.05, "roll trim, part of full travel", "+ right"),
    _number("power", "fraction", -0.05, 1.2, "power, part of full power"),
    _switch("on_ground", "the aeroplane stands or rolls on the ground"),
    _switch("autopilot", "an autopilot is engaged"),
)

CHANNEL_BY_NAME: Final[dict[str, Channel]] = {channel.name: channel for channel in CHANNELS}
REQUIRED_CHANNELS: Final[tuple[str, ...]] = tuple(c.name for c in CHANNELS if c.is_required)

ELAPSED_COLUMN: Final = "time_s"
"""Seconds from the session's start."""

CLOCK_COLUMN: Final = "timestamp"
"""ISO 8601 with an offset; taken where `time_s` is absent."""
