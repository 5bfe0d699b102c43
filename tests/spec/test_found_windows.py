"""found_windows: a whole log cut into maneuvers."""

from typing import Any

import numpy as np
import pyarrow as pa
import pytest

from tests.logs import NO_LIMITS, Formula, log_inputs, ramp, samples
from tests.tables import rows_of

ALTITUDE = ramp((260, 3000), (320, 3500))
HEADING = ramp((100, 350), (115, 395))
POWER: Formula = lambda t: np.select([t <= 258, t <= 322, t <= 520], [0.65, 1.0, 0.65], 0.55)  # noqa: E731


def cut(log: pa.Table) -> list[tuple[str, int, int]]:
    rows = rows_of("found_windows", **log_inputs(log))
    return sorted(((r["kind"], r["start_no"], r["end_no"]) for r in rows), key=lambda row: row[1])


def lesson(**more: Any) -> pa.Table:  # noqa: ANN401
    channels = {"altitude_ft": ALTITUDE, "heading_deg": lambda t: HEADING(t) % 360, "power": POWER}
    return samples(700, 1, **{**channels, **more})


def test_a_lesson_is_cut_into_its_six_kinds() -> None:
    found = cut(lesson())
    assert [kind for kind, _, _ in found] == [
        *("level", "turn", "level", "climb", "level_off", "level", "power_change", "level")
    ]
    edges = [start for _, start, _ in found]
    assert edges == pytest.approx([0, 99, 122, 260, 320, 440, 520, 640], abs=3)


def test_level_flight_begins_a_margin_after_a_turn() -> None:
    found = {kind: (start, end) for kind, start, end in reversed(cut(lesson()))}
    turn_end = found["turn"][1]
    assert ("level", turn_end + 5) in [(kind, start) for kind, start, _ in cut(lesson())]


def test_altitude_and_heading_alone_give_all_but_the_power_change() -> None:
    kinds = [kind for kind, _, _ in cut(lesson(power=lambda t: np.full(len(t), np.nan)))]
    assert "power_change" not in kinds
    bare = samples(700, 1, altitude_ft=ALTITUDE, heading_deg=lambda t: HEADING(t) % 360)
    assert [kind for kind, _, _ in cut(bare)] == [
        "level",
        "turn",
        "level",
        "climb",
        "level_off",
        "level",
    ]


def test_a_jump_splits_level_flight() -> None:
    log = samples(
        200, 4, altitude_ft=lambda t: np.where(t < 90, 3000, 6000), heading_deg=lambda t: 90 + 0 * t
    )
    assert cut(log) == [("level", 0, 90), ("level", 90, 200)]


def test_a_short_stretch_between_two_turns_is_not_told() -> None:
    swings = ramp((60, 90), (75, 135), (95, 135), (110, 90))
    found = cut(samples(200, 1, altitude_ft=lambda t: 3000 + 0 * t, heading_deg=swings))
    assert [kind for kind, _, _ in found] == ["level", "turn", "turn", "level"]


def test_a_weak_student_in_rough_air_still_flies_level() -> None:
    """150 ft off and back over a minute and more, 15 deg beside the heading, gusts on top."""
    draw = np.random.default_rng(3)
    log = samples(
        300,
        4,
        altitude_ft=lambda t: 3000 + 150 * np.sin(2 * np.pi * t / 150) + draw.normal(0, 15, len(t)),
        heading_deg=lambda t: 90 + 15 * np.sin(2 * np.pi * t / 70) + draw.normal(0, 1, len(t)),
    )
    assert cut(log) == [("level", 0, 300)]


def test_too_short_a_log_holds_nothing() -> None:
    assert (
        cut(samples(20, 1, altitude_ft=lambda t: 3000 + 0 * t, heading_deg=lambda t: 90 + 0 * t))
        == []
    )


FINDS = {
    "session_seconds": pa.table(
        {
            "session_id": ["s1"] * 200,
            "revision": [1] * 200,
            "stretch_no": [0] * 200,
            "second_no": range(200),
        }
    ),
    "found_climbs": "session_id | revision | start_no | end_no | kind\ns1 | 1 | 50 | 64 | climb",
    "found_turns": "session_id | revision | start_no | end_no\ns1 | 1 | 60 | 79",
    "own_limits": NO_LIMITS,
}


def test_a_turn_that_outlasts_a_climb_still_knows_when_it_began() -> None:
    none = "session_id | revision | start_no\ns2 | 1 | 0"
    rows = rows_of("found_windows", found_power_changes=none, **FINDS)
    found = {r["kind"]: (r["start_no"], r["end_no"], r["begun_no"]) for r in rows}
    assert found["climb"] == (50, 65, 50)
    assert found["turn"] == (65, 80, 60)


def test_power_changed_in_the_second_in_which_a_turn_ended_is_a_power_change_from_there_on() -> (
    None
):
    changed = "session_id | revision | start_no\ns1 | 1 | 80"
    rows = rows_of("found_windows", found_power_changes=changed, **FINDS)
    assert [(r["start_no"], r["end_no"]) for r in rows if r["kind"] == "power_change"] == [
        (80, 200)
    ]
