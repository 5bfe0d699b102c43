"""Every data check, raised by a log made for it, is told by `query` and on the data quality page."""

import csv
import io
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from pipeline.schema.gates import GATE_BY_NAME
from tests.cli.conftest import Run
from tests.inboxes import SESSION_HEADING, TASKS, School, log_text, session_line
from tests.recorders import ELAPSED, TWO_CHANNELS, columns_text
from tests.unit.test_land_checks import Channels, flight

Spoil = Callable[[np.ndarray, Channels], None]


def spike(t_ms: np.ndarray, channels: Channels) -> None:
    channels["altitude_ft"][400] = 9000


def coarse(t_ms: np.ndarray, channels: Channels) -> None:
    channels["altitude_ft"][:] = (channels["altitude_ft"] / 25).round() * 25


def altimeter(t_ms: np.ndarray, channels: Channels) -> None:
    channels["altitude_ft"][600:] += 82


def jump(t_ms: np.ndarray, channels: Channels) -> None:
    channels["heading_deg"][600:] = (channels["heading_deg"][600:] + 120) % 360
    channels["altitude_ft"][600:] += 2000


def pause(t_ms: np.ndarray, channels: Channels) -> None:
    for values in channels.values():
        values[500:540] = values[500]


def climb_backwards(t_ms: np.ndarray, channels: Channels) -> None:
    rate = 900 * np.sign(np.sin(2 * np.pi * t_ms / 240_000))
    channels["altitude_ft"] += (np.cumsum(rate) / 240).astype(np.float32)
    channels["vertical_speed_fpm"][:] = -channels["vertical_speed_fpm"] - rate.astype(np.float32)


def frozen(t_ms: np.ndarray, channels: Channels) -> None:
    channels["altitude_ft"][400:700] = channels["altitude_ft"][400]


def gap(t_ms: np.ndarray, channels: Channels) -> None:
    t_ms[600:] += 4000


def mixed(t_ms: np.ndarray, channels: Channels) -> None:
    t_ms[900:] += 750 * np.minimum(np.arange(len(t_ms) - 900, dtype=np.int32), 200)


SPOILT: dict[str, Spoil] = {
    "spikes": spike,
    "coarse_channel": coarse,
    "altimeter_step": altimeter,
    "jump": jump,
    "pause": pause,
    "vertical_speed_disagrees": climb_backwards,
    "frozen": frozen,
    "gaps": gap,
    "mixed_rates": mixed,
}


def spoilt_log(spoil: Spoil) -> str:
    t_ms, channels = flight(900)
    spoil(t_ms, channels)
    columns = {name: values.tolist() for name, values in channels.items()}
    return log_text(len(t_ms), time_s=(t_ms / 1000).tolist(), **columns)


def damaged_rows() -> str:
    """A log with one row of each kind that is left out, and one value that is none."""
    heading, *rows = log_text(400).splitlines()
    cells = [row.split(",") for row in rows]
    cells[50].append("1")
    cells[100][0] = "soon"
    cells[150][2] = "ninety"
    cells.insert(200, cells[199])
    cells.insert(250, [cells[249][0], "4500", *cells[249][2:]])
    cells.insert(300, ["10.1", *cells[299][1:]])
    return "\n".join([heading, *(",".join(row) for row in cells), ""])


@pytest.fixture
def school(tmp_path: Path) -> School:
    """One session for each check or group of checks."""
    school = School(tmp_path)
    school.put(
        "roster.csv", "student_id,cohort,start_date\nTH01,2026A,2026-02-01\nTH02,2026A,2026-04-01\n"
    )
    logs = {name: spoilt_log(spoil) for name, spoil in SPOILT.items()}
    logs |= {"rows": damaged_rows(), "tasks": log_text(200), "early": log_text(200)}
    logs["clock"] = log_text(200, time_s=[7200 + i / 4 for i in range(200)])
    logs["future"] = log_text(200)
    logs["moth"] = columns_text(t=range(60), alt=range(4000, 4060), hdg=range(60))
    for name, text in logs.items():
        school.put(f"logs/{name}.csv", text)
    rows = [session_line(name) for name in logs if name not in ("early", "future", "moth")]
    rows += [
        session_line("early", "TH02"),
        session_line("future", started_at="2999-03-14T09:00:00Z"),
    ]
    lines = [f"{row.rstrip()},\n" for row in rows] + [f"{session_line('moth').rstrip()},moth\n"]
    school.sessions(*lines, heading=SESSION_HEADING.rstrip() + ",recorder\n")
    school.put("tasks/tasks.csv", f"{TASKS}20,51,level,4000,90\n60,70,level,4000,90\n")
    profile = school.store.root / "profiles" / "moth.toml"
    profile.parent.mkdir(parents=True)
    profile.write_text(ELAPSED + TWO_CHANNELS + 'airspeed_kt = {column = "ias"}\n')
    return school


@pytest.mark.slow
def test_every_check_that_speaks_is_told_by_query_and_on_the_page(run: Run, school: School) -> None:
    store = school.store.root
    landed = run("ingest", "--inbox", school.inbox, "--warehouse", store)
    assert "landed 15 sessions" in landed.out, landed.out
    asked = "SELECT session_id, gate, severity, affected, detail FROM session_gates"
    told = run("query", asked, "--format", "csv", "--warehouse", store).out
    found = list(csv.DictReader(io.StringIO(told)))
    assert {row["gate"] for row in found} == set(GATE_BY_NAME)
    for name in SPOILT:
        assert name in {row["gate"] for row in found if row["session_id"] == name}
    assert all(row["severity"] and row["affected"] and row["detail"] for row in found)
    run("score", "--warehouse", store)
    assert run("pages", "--warehouse", store).code == 0
    page = (store / "pages" / "data-quality.html").read_text(encoding="utf-8")
    for name in GATE_BY_NAME:
        assert f"<code>{name}</code></th>" in page
    explained = run("definitions", "gates").out
    assert all(name in explained for name in GATE_BY_NAME)
