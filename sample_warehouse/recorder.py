"""A flight as its device's recorder writes it: columns, resolution, jitter, gaps, a stuck gyro."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sample_warehouse.flight import TRIM_AUTHORITY
from sample_warehouse.simulate import Flight

SAMPLE_S = 0.25
STICK_JITTER = 0.0015
FORCE_N_PER_TRAVEL = 200.0
Channel = NDArray[np.float64]


@dataclass(frozen=True)
class Column:
    """How one channel is written: its step, and the text format that shows just that step."""

    resolution: float
    text: str


COLUMNS = {
    "time_s": Column(0.25, "%.2f"),
    "altitude_ft": Column(1, "%d"),
    "heading_deg": Column(0.1, "%.1f"),
    "vertical_speed_fpm": Column(10, "%d"),
    "airspeed_kt": Column(0.1, "%.1f"),
    "pitch_deg": Column(0.1, "%.1f"),
    "bank_deg": Column(0.1, "%.1f"),
    "pitch_control": Column(0.001, "%.3f"),
    "roll_control": Column(0.002, "%.3f"),
    "pitch_force": Column(0.5, "%.1f"),
    "pitch_trim": Column(0.002, "%.3f"),
    "power": Column(0.01, "%.2f"),
    "on_ground": Column(1, "%s"),
    "autopilot": Column(1, "%s"),
}
FLAGS = ("on_ground", "autopilot")
SIMULATOR_COLUMNS = tuple(name for name in COLUMNS if name not in ("pitch_force", *FLAGS))
AEROPLANE_COLUMNS = tuple(name for name in COLUMNS if name != "vertical_speed_fpm")


def log_text(flight: Flight) -> str:
    """The log as CSV text, one line per sample at 4 Hz."""
    recorded = recorded_channels(flight)
    line = ",".join(COLUMNS[name].text for name in recorded)
    values = [
        ["false"] * len(column) if name in FLAGS else column.tolist()
        for name, column in recorded.items()
    ]
    rows = [line % row for row in zip(*values, strict=True)]
    return "\n".join([",".join(recorded), *rows, ""])


def recorded_channels(flight: Flight) -> dict[str, Channel]:
    """The channels that this device records, rounded to its resolution; lost samples are left out."""
    device, draw = flight.session.device, np.random.default_rng([*flight.session.seed, 4])
    channels = dict(flight.channels)
    rows = len(channels["altitude_ft"])
    jitter = draw.normal(0.0, STICK_JITTER, (2, rows))
    stick = control = channels["pitch_control"]
    if device.control == "free":  # the yoke floats where trim lets it: its place shows no force
        control = stick + TRIM_AUTHORITY * channels["pitch_trim"]
        channels["pitch_force"] = FORCE_N_PER_TRAVEL * stick + draw.normal(0.0, 0.6, rows)
    channels["pitch_control"] = _in_travel(control + device.stick_neutral + jitter[0])
    channels["roll_control"] = _in_travel(channels["roll_control"] + jitter[1])
    channels["time_s"] = np.linspace(0.0, SAMPLE_S * (rows - 1), rows)
    for name in FLAGS:
        channels[name] = np.zeros(rows)
    if flight.session.has_stuck_gyro:
        _stick_heading(channels["heading_deg"])
    names = AEROPLANE_COLUMNS if device.device_class == "aeroplane" else SIMULATOR_COLUMNS
    kept = _kept_rows(rows, flight, draw)
    return {name: _rounded(name, channels[name][kept]) for name in names}


def _in_travel(position: Channel) -> Channel:
    return np.asarray(np.clip(position, -1.0, 1.0), dtype=np.float64)


def _rounded(name: str, values: Channel) -> Channel:
    step = COLUMNS[name].resolution
    rounded = np.asarray(np.round(values / step) * step, dtype=np.float64)
    return rounded % 360 if name == "heading_deg" else rounded + 0.0  # no minus zero


def _kept_rows(rows: int, flight: Flight, draw: np.random.Generator) -> NDArray[np.bool_]:
    """All rows but those of a recorder's dropout of 1.5 to 8 s, which some sessions have."""
    kept = np.ones(rows, dtype=bool)
    often = 0.4 if flight.session.device.device_class == "aeroplane" else 0.08
    for _ in range(int(draw.random() < often) + int(draw.random() < often / 4)):
        start = int(draw.integers(200, rows - 200))
        kept[start : start + round(float(draw.uniform(1.5, 8.0)) / SAMPLE_S)] = False
    return kept


def _stick_heading(heading: Channel) -> None:
    """A gyro that sticks for 150 s in the middle of the session, and then lets go."""
    start, end = len(heading) // 3, len(heading) // 3 + 600
    heading[start:end] = heading[start]
