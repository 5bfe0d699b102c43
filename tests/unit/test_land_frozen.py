"""A channel that stands still to the bit while the aeroplane moves is frozen; a coarse one is not."""

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.land.frozen import frozen_gates
from pipeline.land.gates import Gate

Floats = NDArray[np.float64]
T_MS = np.arange(0, 600_000, 250, dtype=np.int32)
SECONDS = T_MS / 1000.0
WAVE = np.sin(SECONDS * 2 * np.pi / 30)


def _gates(**channels: Floats) -> tuple[Gate, ...]:
    return frozen_gates(T_MS, {name: v.astype(np.float32) for name, v in channels.items()})


def _freeze(values: Floats, first_s: float, last_s: float) -> Floats:
    held = values.copy()
    is_held = (first_s <= SECONDS) & (last_s >= SECONDS)
    held[is_held] = held[is_held][0]
    return held


def _moving() -> dict[str, Floats]:
    """A trimmed aeroplane that breathes 40 ft up and down and rolls gently, finely recorded."""
    return {
        "altitude_ft": np.round(4000 + 40 * WAVE, 1),
        "vertical_speed_fpm": np.round(40 * 2 * np.pi / 30 * 60 * np.cos(SECONDS * 2 * np.pi / 30)),
        "heading_deg": np.round(90 + 2 * WAVE, 1),
        "bank_deg": np.round(3 * np.cos(SECONDS * 2 * np.pi / 30), 1),
    }


def test_a_moving_aeroplane_has_no_frozen_sensor() -> None:
    assert _gates(**_moving()) == ()


@pytest.mark.parametrize(
    ("channel", "moved", "severity"),
    [
        ("altitude_ft", "vertical_speed_fpm", "not_scored"),
        ("heading_deg", "bank_deg", "not_scored"),
    ],
)
def test_a_channel_that_stands_while_its_partner_moves_is_not_scored(
    channel: str, moved: str, severity: str
) -> None:
    channels = _moving()
    channels[channel] = _freeze(channels[channel], 100, 170)
    (gate,) = _gates(**channels)
    assert (gate.gate, gate.channel, gate.severity) == ("frozen", channel, severity)
    assert (gate.from_s, gate.to_s, gate.affected) == (100.0, 170.0, 281)
    assert moved in gate.detail


@pytest.mark.parametrize(("last_s", "is_frozen"), [(160.0, False), (160.25, True)])
def test_a_minute_is_not_yet_frozen(last_s: float, is_frozen: bool) -> None:
    channels = _moving()
    channels["altitude_ft"] = _freeze(channels["altitude_ft"], 100, last_s)
    assert bool(_gates(**channels)) is is_frozen


def test_an_altitude_frozen_for_the_whole_session_is_found() -> None:
    channels = _moving()
    channels["altitude_ft"] = np.full(len(T_MS), 4000.0)
    assert [gate.channel for gate in _gates(**channels)] == ["altitude_ft"]


def test_a_climb_shows_a_frozen_altimeter_however_coarse() -> None:
    channels = _moving() | {"vertical_speed_fpm": 500 + 20 * WAVE}
    channels["altitude_ft"] = np.where(SECONDS < 300, 4000.0, 4100.0)
    assert [gate.channel for gate in _gates(**channels)] == ["altitude_ft", "altitude_ft"]


def test_pitch_alone_shows_a_frozen_altimeter() -> None:
    pitch = 3 * WAVE
    assert len(_gates(altitude_ft=np.full(len(T_MS), 4000.0), pitch_deg=pitch)) == 1


def _coarse_altitude() -> dict[str, Floats]:
    """Held within 10 ft by a recorder of 25 ft steps that only a climb at the end makes move."""
    altitude = 4000 + 10 * WAVE + np.where(SECONDS > 500, (SECONDS - 500) * 5, 0)
    speed = np.gradient(altitude, SECONDS) * 60
    return {"altitude_ft": np.round(altitude / 25) * 25, "vertical_speed_fpm": speed}


def _coarse_heading() -> dict[str, Floats]:
    """Wings rocked by half a degree under a compass of whole degrees."""
    heading = np.round(90 + np.where(SECONDS > 500, SECONDS - 500, 0))
    return {"heading_deg": heading, "bank_deg": 0.5 * np.sin(SECONDS * 2)}


def _paused() -> dict[str, Floats]:
    """A simulator that was paused: everything stands."""
    return {name: _freeze(values, 100, 300) for name, values in _moving().items()}


def _on_ground() -> dict[str, Floats]:
    """Parked, while the sensors of attitude tremble."""
    still = np.full(len(T_MS), 120.0)
    return {"altitude_ft": still, "pitch_deg": 4 * WAVE, "on_ground": np.ones(len(T_MS))}


def _no_partner() -> dict[str, Floats]:
    """Nothing recorded that could contradict."""
    return {"altitude_ft": np.full(len(T_MS), 4000.0), "heading_deg": np.full(len(T_MS), 90.0)}


def _autopilot_turn() -> dict[str, Floats]:
    """A steady bank in a turn stands rightly still."""
    rate = 1091 * np.tan(np.radians(15)) / 100
    return {"bank_deg": np.full(len(T_MS), 15.0), "heading_deg": SECONDS * rate % 360}


@pytest.mark.parametrize(
    "flight",
    [_coarse_altitude, _coarse_heading, _paused, _on_ground, _no_partner, _autopilot_turn],
)
def test_standing_still_rightly_is_not_frozen(flight: Callable[[], dict[str, Floats]]) -> None:
    assert _gates(**flight()) == ()


def test_a_needle_stuck_in_a_climb_and_a_bank_stuck_in_a_turn_are_suspect() -> None:
    still = np.zeros(len(T_MS))
    gates = _gates(
        altitude_ft=4000 + SECONDS,
        vertical_speed_fpm=still,
        heading_deg=SECONDS % 360,
        bank_deg=still,
    )
    assert [(gate.channel, gate.severity) for gate in gates] == [
        ("vertical_speed_fpm", "suspect"),
        ("bank_deg", "suspect"),
    ]


def test_blank_cells_of_slower_channels_hide_nothing() -> None:
    channels = _moving()
    channels["altitude_ft"] = _freeze(channels["altitude_ft"], 100, 170)
    for name in channels:
        channels[name] = np.where(np.arange(len(T_MS)) % 4 == 0, channels[name], np.nan)
    (gate,) = _gates(**channels)
    assert gate.channel == "altitude_ft"
    assert gate.affected == 71
