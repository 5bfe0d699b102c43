"""settling_steps: each sample of an event, and what settling asks of it."""

# ruff: noqa: E501 (tables in text are wide)

from typing import Any

import pytest

from tests.expected import points
from tests.placed import NUMBERS, patchy, placed
from tests.tables import rows_of

EVENT = """
    maneuver_id | start_ms | end_ms | gap_limit_ms | speed_gap_ms | control_gap_ms | displacement_gap_ms | target_altitude_ft | control  | pitch_neutral | mean_ms
    M1          | 1000     | 20000  | 2500         | 2500         | 2500           | 2500                | 4000               | centring | 0.1           | 4999"""
HEAD = "t_ms | altitude_error_ft | pitch_control | pitch_force"


def steps(samples: str, event: str = EVENT, speeds: str = "") -> dict[int, dict[str, Any]]:
    """The steps by their second, from samples `t_ms | altitude | control | force` and speeds `t_ms | value`."""
    lines = [[cell.strip() for cell in line.split("|")] for line in samples.splitlines()]
    errors = [[t, "-" if a == "-" else float(a) - 4000, *more] for t, a, *more in lines]
    rows = "\n".join(" | ".join(map(str, line)) for line in errors)
    derived = "\n".join(f"{line} | vertical_speed" for line in speeds.splitlines())
    found = rows_of(
        "settling_steps",
        retrim_events=points(event),
        maneuver_numbers=NUMBERS,
        placed_samples=placed(f"{HEAD}\n{rows}"),
        patchy_observations=patchy(f"t_ms | value | channel:text\n{derived}".strip()),
    )
    return {r["t_ms"] // 1000: r for r in found}


def test_only_level_offs_and_power_changes_have_steps() -> None:
    numbers = f"{NUMBERS}\n    2 | M2 | 4000 | 90 | 0 | 10000 | 2500"
    rows = rows_of(
        "settling_steps",
        retrim_events=points(EVENT.replace("M1", "M2")),
        maneuver_numbers=numbers,
        placed_samples=placed("maneuver_no | t_ms\n1 | 0\n2 | 1000\n2 | 0\n1 | 2000"),
        patchy_observations=patchy(),
    )
    assert [(r["maneuver_id"], r["t_ms"]) for r in rows] == [("M2", 0), ("M2", 1000)]


def test_the_control_is_judged_by_its_mean_over_the_last_five_seconds() -> None:
    samples = "\n".join(f"{1000 * s} | 4000 | {0.1 if s < 8 else 0.2} | -" for s in range(1, 15))
    found = steps(samples)
    # a line from 0 to 0.1 within second 8, then 0.1: after s seconds 0.05 + (s - 8) 0.1 of five
    assert found[7]["mean_displacement"] == pytest.approx(0, abs=1e-8)
    assert found[8]["mean_displacement"] == pytest.approx(0.01)
    assert found[10]["mean_displacement"] == pytest.approx(0.05)
    assert found[13]["mean_displacement"] == pytest.approx(0.1)
    assert (found[9]["is_control_off"], found[11]["is_control_off"]) == (True, False)


def test_the_mean_starts_with_the_event() -> None:
    found = steps("1000 | 4000 | 0.1 | -\n2000 | 4000 | 0.1 | -")
    assert found[1]["mean_displacement"] == pytest.approx(0, abs=1e-8)
    assert found[2]["mean_displacement"] == pytest.approx(0, abs=1e-8)


def test_means_restart_after_a_gap_in_the_altitude() -> None:
    found = steps("1000 | 4000 | 0.9 | -\n2000 | 4000 | 0.9 | -\n4501 | 4000 | 0.1 | -")
    assert [r["stretch_no"] for r in found.values()] == [0, 0, 1]
    assert found[4]["mean_displacement"] == pytest.approx(0, abs=1e-8)
    at_the_limit = steps("1000 | 4000 | 0.9 | -\n2000 | 4000 | 0.9 | -\n4500 | 4000 | 0.1 | -")
    assert at_the_limit[4]["stretch_no"] == 0


@pytest.mark.parametrize(
    ("altitude", "is_on"),
    [("4100", True), ("3900", True), ("4100.5", False), ("3899.5", False), ("-", True)],
)
def test_a_hundred_feet_off_is_on_altitude_and_a_blank_cell_is_not_judged(
    altitude: str, is_on: bool
) -> None:
    found = steps(f"1000 | {altitude} | 0.1 | -")
    assert found[1]["is_on_altitude"] is is_on
    assert found[1]["has_altitude"] is (altitude != "-")


@pytest.mark.parametrize(("speed", "is_level"), [(100, True), (-100, True), (101, False)])
def test_vertical_speed_is_judged_by_its_mean(speed: int, is_level: bool) -> None:
    speeds = f"1000 | {speed}\n2000 | {speed}"
    found = steps("1000 | 4000 | 0.1 | -\n2000 | 4000 | 0.1 | -", speeds=speeds)
    assert [r["is_level"] for r in found.values()] == [is_level, is_level]


def test_without_a_vertical_speed_in_the_last_seconds_nothing_is_known() -> None:
    samples = "\n".join(f"{1000 * s} | 4000 | 0.1 | -" for s in range(1, 9))
    found = steps(samples, speeds="1000 | 0")
    assert [found[s]["is_level"] for s in (1, 5, 6)] == [True, True, None]


def test_a_vertical_speed_between_the_altitudes_rows_is_read() -> None:
    samples = "1000 | 4000 | - | -\n1500 | - | 0.1 | -\n2000 | 4000 | - | -\n2500 | - | 0.1 | -"
    found = steps(samples, speeds="1500 | 200\n2500 | 300")
    assert found[2]["mean_vertical_speed"] == pytest.approx(250)


FREE = EVENT.replace("centring | 0.1 ", "free     | -   ")


def test_a_free_control_counts_by_its_force() -> None:
    found = steps("1000 | 4000 | 0.5 | 10\n2000 | 4000 | 0.5 | 12", event=FREE)
    assert found[1]["mean_displacement"] == pytest.approx(0.05)  # 10 N are the limit
    assert [r["is_control_off"] for r in found.values()] == [True, False]


def test_a_free_control_without_a_force_is_off_when_it_rests() -> None:
    still = "\n".join(f"{1000 * s} | 4000 | 0.5 | -" for s in range(1, 7))
    found = steps(f"{still}\n7000 | 4000 | 0.6 | -", event=FREE)
    assert [found[s]["is_control_off"] for s in (1, 6, 7)] == [True, True, False]
    assert found[7]["displacement"] is None
