"""What each data check says of a flight made for it, and that it is silent about a sound one."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.land.checks import check_samples
from pipeline.land.gates import Gate
from pipeline.reading import open_warehouse
from pipeline.settings import Settings
from tests.inboxes import School, gates_of, log_text, school_with, session_line

RATE = 4
Channels = dict[str, np.ndarray]


def flight(seconds: float = 300, seed: int = 1, rate: float = RATE) -> tuple[np.ndarray, Channels]:
    """A sound flight about 4,000 ft and 090, every channel of motion, in usual steps."""
    draw = np.random.default_rng(seed)
    t = np.arange(int(seconds * rate)) / rate
    speed = 300 * np.sin(2 * np.pi * t / 45) + 90 * np.sin(2 * np.pi * t / 13)
    altitude = 4000 + np.cumsum(speed) / 60 / rate
    bank = 6 * np.sin(2 * np.pi * t / 60)
    channels = {
        "altitude_ft": altitude.round(),
        "heading_deg": np.mod(2 + 8 * (1 - np.cos(2 * np.pi * t / 60)), 360).round(1),
        "vertical_speed_fpm": speed.round(-1),
        "airspeed_kt": (100 + 2 * np.sin(t / 9)).round(1),
        "bank_deg": bank.round(1),
        "pitch_control": draw.normal(0, 0.02, len(t)).round(3),
    }
    return (t * 1000).round().astype(np.int32), {
        n: v.astype(np.float32) for n, v in channels.items()
    }


def findings(t_ms: np.ndarray, channels: Channels) -> list[tuple[str, str | None, str]]:
    return [(g.gate, g.channel, g.severity) for g in check_samples(t_ms, channels).gates]


def only_gate(t_ms: np.ndarray, channels: Channels) -> Gate:
    (gate,) = check_samples(t_ms, channels).gates
    return gate


@pytest.mark.parametrize("rate", [1, 4, 10, 20])
@pytest.mark.parametrize("seed", [1, 2])
def test_a_sound_flight_is_no_finding(seed: int, rate: float) -> None:
    assert findings(*flight(600, seed, rate)) == []


@pytest.mark.parametrize(
    ("channel", "value"),
    [("altitude_ft", 9000), ("altitude_ft", 3700), ("heading_deg", 180), ("airspeed_kt", 0)],
)
def test_a_spike_becomes_null_and_nothing_else_does(channel: str, value: float) -> None:
    t_ms, channels = flight()
    spoiled = channels[channel].copy()
    spoiled[400] = value
    checked = check_samples(t_ms, {**channels, channel: spoiled})
    (gate,) = checked.gates
    assert (gate.gate, gate.severity, gate.channel, gate.affected) == (
        "spikes",
        "warning",
        channel,
        1,
    )
    assert (gate.from_s, gate.to_s) == (100, 100)
    assert np.flatnonzero(np.isnan(checked.values[channel])).tolist() == [400]
    assert np.array_equal(
        np.delete(checked.values[channel], 400), np.delete(channels[channel], 400)
    )
    assert spoiled[400] == value


def test_a_heading_through_north_is_no_spike() -> None:
    t_ms, channels = flight()
    north = np.where(np.arange(len(t_ms)) % 2, np.float32(359.5), np.float32(0.5))
    assert "spikes" not in {g for g, _, _ in findings(t_ms, {**channels, "heading_deg": north})}


def test_many_spikes_make_a_channel_suspect() -> None:
    t_ms, channels = flight()
    channels["altitude_ft"][50:-50:20] += 900
    assert findings(t_ms, channels)[0] == ("spikes", "altitude_ft", "suspect")


@given(st.integers(3, 1100), st.floats(130, 20_000), st.booleans())
@settings(max_examples=60, deadline=None)
def test_any_lone_altitude_far_from_its_neighbours_is_found(
    at: int, size: float, is_up: bool
) -> None:
    t_ms, channels = flight()
    channels["altitude_ft"][at] += np.float32(size if is_up else -size)
    checked = check_samples(t_ms, channels)
    assert np.flatnonzero(np.isnan(checked.values["altitude_ft"])).tolist() == [at]


@pytest.mark.parametrize(
    ("step", "severity"), [(1, None), (5, None), (10, "note"), (25, "note"), (50, "suspect")]
)
def test_a_coarse_altitude_is_said(step: float, severity: str | None) -> None:
    """A step of q adds q / sqrt(12): 10 ft 2.89 ft, 25 ft 7.22 ft (uniform quantisation)."""
    t_ms, channels = flight(900)
    channels["altitude_ft"] = ((channels["altitude_ft"] + 3) / step).round() * np.float32(step)
    found = [g for g in check_samples(t_ms, channels).gates if g.gate == "coarse_channel"]
    assert [g.severity for g in found] == ([] if severity is None else [severity])
    if step == 25:
        assert "in steps of 25, which alone scatter it by 7.2" in found[0].detail


def test_coarse_metres_are_as_coarse_as_feet() -> None:
    t_ms, channels = flight(900)
    metres = (channels["altitude_ft"].astype(float) * 0.3048 / 5).round() * 5
    channels["altitude_ft"] = (metres / 0.3048).astype(np.float32)
    found = [g for g in check_samples(t_ms, channels).gates if g.gate == "coarse_channel"]
    assert [g.severity for g in found] == ["note"]
    assert "steps of 16.4" in found[0].detail


@pytest.mark.parametrize("hpa", [1, 3.4, -10, 30])
def test_a_new_altimeter_setting_is_seen_as_what_it_is(hpa: float) -> None:
    """Near sea level a hectopascal is 27.3 ft (U.S. Standard Atmosphere 1976)."""
    t_ms, channels = flight()
    channels["altitude_ft"][600:] += np.float32(27.3 * hpa)
    gate = only_gate(t_ms, channels)
    assert (gate.gate, gate.severity, gate.channel) == ("altimeter_step", "suspect", "altitude_ft")
    assert gate.from_s == 150
    assert f"{'higher' if hpa > 0 else 'lower'}" in gate.detail
    told = float(gate.detail.split("set ")[1].split(" hPa")[0])
    assert told == pytest.approx(abs(hpa), abs=0.12)


def test_a_brisk_climb_and_a_bump_are_no_altimeter_steps() -> None:
    for rate in (1, 4):
        t_ms, channels = flight(rate=rate)
        t = t_ms / 1000
        climb = np.clip(t - 60, 0, 60) * 2500 / 60
        channels["altitude_ft"] += climb.astype(np.float32)
        channels["vertical_speed_fpm"] += np.where((t > 60) & (t < 120), np.float32(2500), 0)
        assert findings(t_ms, channels) == []
        bump = 40 * np.exp(-(((t - 200) / 3) ** 2))
        channels["altitude_ft"] += bump.round().astype(np.float32)
        assert "altimeter_step" not in {g for g, _, _ in findings(t_ms, channels)}


def test_a_jump_of_heading_and_altitude_is_one_jump() -> None:
    t_ms, channels = flight()
    channels["heading_deg"][600:] = (channels["heading_deg"][600:] + 120) % 360
    channels["altitude_ft"][600:] += 2000
    gate = only_gate(t_ms, channels)
    assert (gate.gate, gate.severity, gate.from_s) == ("jump", "note", 150)
    channels["altitude_ft"][600:] -= 2000
    assert "heading jumps by +120 deg" in only_gate(t_ms, channels).detail


@pytest.mark.parametrize(("rows", "is_pause"), [(19, False), (20, True), (400, True)])
def test_nothing_moving_for_five_seconds_is_a_pause(rows: int, is_pause: bool) -> None:
    t_ms, channels = flight()
    for values in channels.values():
        values[500 : 500 + rows + 1] = values[500]
    found = [g for g in check_samples(t_ms, channels).gates if g.gate == "pause"]
    assert len(found) == is_pause
    if is_pause:
        assert (found[0].from_s, found[0].to_s) == (125, 125 + rows / RATE)


def test_with_three_channels_a_calm_moment_is_no_pause() -> None:
    t_ms, channels = flight()
    few = {name: channels[name] for name in ("altitude_ft", "heading_deg", "airspeed_kt")}
    for values in few.values():
        values[500:550] = values[500]
    assert "pause" not in {g for g, _, _ in findings(t_ms, few)}


@pytest.mark.parametrize(
    ("factor", "words"),
    [
        (-1, "its sign seems turned"),
        (1 / 197, "a unit may be wrong"),
        (0.3048, "a unit may be wrong"),
    ],
)
def test_vertical_speed_in_another_unit_or_sign_is_suspect(factor: float, words: str) -> None:
    t_ms, channels = flight(900)
    t = t_ms / 1000
    climb = 900 * np.sign(np.sin(2 * np.pi * t / 240))
    channels["altitude_ft"] += (np.cumsum(climb) / 60 / RATE).astype(np.float32)
    channels["vertical_speed_fpm"] = channels["vertical_speed_fpm"] + climb.astype(np.float32)
    assert findings(t_ms, channels) == []
    channels["vertical_speed_fpm"] = channels["vertical_speed_fpm"] * np.float32(factor)
    (gate,) = (g for g in check_samples(t_ms, channels).gates if "disagrees" in g.gate)
    assert gate.severity == "suspect"
    assert words in gate.detail


def test_the_lag_of_a_mechanical_instrument_is_no_disagreement() -> None:
    """Nine seconds of first-order lag, the most that handbooks give a mechanical indicator."""
    t_ms, channels = flight(900)
    climb = 900 * np.sign(np.sin(2 * np.pi * t_ms / 240_000))
    true = channels["vertical_speed_fpm"] + climb.astype(np.float32)
    channels["altitude_ft"] += (np.cumsum(climb) / 60 / RATE).astype(np.float32)
    lagged = true.copy()
    for i in range(1, len(true)):
        lagged[i] = lagged[i - 1] + (true[i] - lagged[i - 1]) / (9 * RATE)
    channels["vertical_speed_fpm"] = lagged
    assert findings(t_ms, channels) == []


def test_gaps_and_mixed_rates_are_noted() -> None:
    t_ms, channels = flight()
    gap = t_ms.copy()
    gap[600:] += 4000
    note = only_gate(gap, channels)
    assert (note.gate, note.affected, note.from_s, note.to_s) == ("gaps", 1, 149.75, 154)
    assert "1 gap of 4.2 s in all" in note.detail
    slow = np.arange(len(t_ms)) % 4 == 0
    slow[:900] = True
    kept = {name: values[slow] for name, values in channels.items()}
    mixed = only_gate(t_ms[slow], kept)
    assert (mixed.gate, mixed.severity) == ("mixed_rates", "note")
    assert "every 0.25 s, but during 74 of 299 s at another rate, such as every 1 s" in mixed.detail


@pytest.mark.parametrize("count", [0, 1, 2, 3, 5])
def test_a_handful_of_samples_is_checked_without_a_fault(count: int) -> None:
    t_ms, channels = flight()
    few = {name: values[:count] for name, values in channels.items()}
    assert findings(t_ms[:count], few) == []


@pytest.mark.parametrize(
    ("first_s", "words"),
    [
        (0, None),
        (899, None),
        (7200, "120 min after the session's start, a whole number of hours"),
        (-1500, "25 min before the session's start"),
    ],
)
def test_a_log_that_begins_far_from_the_start_is_said(
    tmp_path: Path, first_s: float, words: str | None
) -> None:
    school = school_with(
        tmp_path, "S1", text=log_text(time_s=[first_s + i / 4 for i in range(200)])
    )
    school.night()
    gate = gates_of(school.session()).get(("clock_disagrees", None))
    assert (gate is None) == (words is None)
    if gate is not None:
        assert str(words) in gate["detail"]


def test_a_corrected_start_clears_the_doubt_about_the_clock(tmp_path: Path) -> None:
    clock = [f"2026-03-14T11:{i // 60:02d}:{i % 60:02d}Z" for i in range(200)]
    school = school_with(tmp_path, "S1", text=log_text(time_s=None, timestamp=clock))
    school.night()
    assert ("clock_disagrees", None) in gates_of(school.session())
    (school.inbox / "logs/S1.csv").unlink()
    school.sessions(session_line("S1", started_at="2026-03-14T11:00:00Z"))
    school.night()
    assert school.session()["revision"] == 2
    assert ("clock_disagrees", None) not in gates_of(school.session())


def _logged(school: School, name: str, t_ms: np.ndarray, channels: Channels) -> None:
    columns = {n: v.tolist() for n, v in channels.items()}
    school.put(f"logs/{name}.csv", log_text(len(t_ms), time_s=(t_ms / 1000).tolist(), **columns))


def test_pauses_and_jumps_on_record_are_those_that_split_maneuvers(tmp_path: Path) -> None:
    """The relation session_breaks splits; landing reports. Both must mean the same moments."""
    school = school_with(tmp_path, "S1", "S2")
    t_ms, channels = flight()
    for values in channels.values():
        values[500:540] = values[500]
    _logged(school, "S1", t_ms, channels)
    t_ms, channels = flight(seed=2)
    channels["heading_deg"][600:] = (channels["heading_deg"][600:] + 90) % 360
    channels["altitude_ft"][800] += 3000
    _logged(school, "S2", t_ms, channels)
    school.night()
    con = open_warehouse(school.store, Settings(), ["session_breaks"])
    query = "SELECT session_id, break_kind, to_ms FROM session_breaks ORDER BY ALL"
    split = con.execute(query).fetchall()
    on_record = [
        (row["session_id"], gate["gate"], round(1000 * gate["to_s"]))
        for row in school.rows("sessions")
        for gate in row["gates"]
        if gate["gate"] in ("pause", "jump")
    ]
    assert split == sorted(on_record)
    assert [kind for _, kind, _ in split] == ["pause", "jump"]
