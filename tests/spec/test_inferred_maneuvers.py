"""inferred_maneuvers: what was found where no task was, its targets and how sure it is."""

from typing import Any

import numpy as np
import pyarrow as pa
import pytest

from pipeline.schema.tables import TABLES
from tests.logs import Formula, log_inputs, ramp, samples
from tests.tables import rows_of

ALTITUDE = ramp((260, 3040), (320, 3510))
HEADING = ramp((100, 352), (115, 396))
POWER: Formula = lambda t: np.select([t <= 258, t <= 322, t <= 520], [0.65, 1.0, 0.65], 0.55)  # noqa: E731
LOG = samples(700, 1, altitude_ft=ALTITUDE, heading_deg=lambda t: HEADING(t) % 360, power=POWER)


def found(log: pa.Table = LOG, *tasks: tuple[float, float]) -> list[dict[str, Any]]:
    keys = ("session_id", "revision", "task_no", "start_s", "end_s", "kind", "flown_by")
    given = [
        dict(zip(keys, ("s1", 1, number, start, end, "level", "student"), strict=True))
        for number, (start, end) in enumerate(tasks, 1)
    ]
    stored = pa.Table.from_pylist(given, schema=TABLES["tasks"])
    return rows_of("inferred_maneuvers", **{**log_inputs(log), "stored_tasks": stored})


def test_maneuvers_are_numbered_by_time_and_say_that_they_were_inferred() -> None:
    rows = found()
    assert [r["maneuver_id"] for r in rows] == [f"s1.1.i{n:02d}" for n in range(1, 9)]
    assert {r["basis"] for r in rows} == {"inferred"}
    assert [r["start_s"] for r in rows] == sorted(r["start_s"] for r in rows)


def test_targets_are_what_was_settled_to() -> None:
    targets = [(r["kind"], r["target_altitude_ft"], r["target_heading_deg"]) for r in found()]
    assert targets == [
        ("level", 3040, 352),
        ("turn", 3040, 36),
        ("level", 3040, 36),
        ("climb", 3510, 36),
        ("level_off", 3510, 36),
        ("level", 3510, 36),
        ("power_change", 3510, 36),
        ("level", 3510, 36),
    ]


def test_a_turn_that_outlasts_a_climb_aims_at_the_heading_that_followed() -> None:
    log = samples(
        400,
        1,
        altitude_ft=ramp((100, 3000), (160, 3500)),
        heading_deg=ramp((140, 90), (180, 210)),
    )
    [turn] = [r for r in found(log) if r["kind"] == "turn"]
    assert 155 < turn["start_s"] < 170
    assert turn["target_heading_deg"] == 210


def test_targets_say_how_far_from_a_round_figure_they_are() -> None:
    level, turn = found()[:2]
    assert (level["beside_hundred_ft"], level["beside_five_deg"]) == (40, 2)
    assert (turn["beside_hundred_ft"], turn["beside_five_deg"]) == (40, 1)


def test_a_wander_does_not_move_a_robust_target() -> None:
    """A minute up to 250 ft high in five minutes of level flight leaves the target where it was."""
    log = samples(
        300,
        1,
        altitude_ft=ramp((100, 3000), (130, 3250), (160, 3000)),
        heading_deg=lambda t: 0 * t + 359.6,
    )
    [level] = found(log)
    assert level["target_altitude_ft"] == 3000
    assert level["target_heading_deg"] == 0


def test_plain_signs_are_told_with_more_confidence() -> None:

    def swinging(amplitude_ft: float) -> pa.Table:
        altitude: Formula = lambda t: 3000 + amplitude_ft * np.sin(t / 20)  # noqa: E731
        return samples(300, 1, altitude_ft=altitude, heading_deg=lambda t: 90 + 0 * t)

    [calm], [restless] = found(swinging(20)), found(swinging(120))
    assert calm["evidence"] == "clear"
    assert calm["unrest"] == 0
    assert restless["unrest"] > 0.5
    assert restless["evidence"] == "doubtful"


def test_where_tasks_are_nothing_is_inferred() -> None:
    assert found(LOG, (0, 350), (350, 700)) == []
    assert found(LOG, (0, 640)) == []


def test_level_flight_keeps_what_a_task_leaves_open() -> None:
    rows = found(LOG, (150, 500))
    assert [(r["kind"], r["start_s"]) for r in rows[:2]] == [
        ("level", 0),
        ("turn", pytest.approx(99, abs=2)),
    ]
    assert all(r["end_s"] <= 150 or r["start_s"] >= 500 for r in rows)
    last_level = rows[-1]
    assert (last_level["kind"], last_level["end_s"]) == ("level", 700)


def test_what_began_inside_a_task_is_not_told_as_an_event() -> None:
    kinds = [r["kind"] for r in found(LOG, (0, 530))]
    assert kinds == ["level"]
