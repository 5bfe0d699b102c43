"""settling_readings: the first moment from which an event stayed settled, or set."""

# ruff: noqa: E501 (tables in text are wide)

from typing import Any

import pyarrow as pa
import pytest

from tests.expected import points
from tests.tables import rows_of

EVENT = """
    maneuver_id | start_ms | end_ms | median_step_s | target_altitude_ft | control  | pitch_neutral
    M1          | 10000    | 60000  | 1             | 4000               | centring | 0.1"""
STEPS = (
    "maneuver_id | t_ms | stretch_no | stretch_end_ms | speed_up_to_ms | speeds_up_to | vertical_speed_fpm "
    "| displacement | pitch_control | pitch_trim | has_altitude | is_control_off | is_on_altitude | is_level"
)
WHOLE = 2**24
"""The running sum of vertical speeds is kept in such parts."""
CONTROL, ALTITUDE, LEVEL = "is_control_off", "is_on_altitude", "is_level"


def reading(
    off: dict[str, range] | None = None,
    gap: range = range(0),
    speeds: dict[int, float] | None = None,
    trims: dict[int, float] | None = None,
    last: int = 60,
    **inputs: str,
) -> dict[str, Any]:
    """One event from 10 s to `last`, a sample a second; `off` says when a condition fails.

    Speeds and trims are those of the seconds from the one given on.
    """
    lines = [STEPS]
    seconds = [s for s in range(10, last + 1) if s not in gap]
    speed_ms, area = 0, 0.0
    for s in seconds:
        is_held = {
            n: "no" if s in (off or {}).get(n, ()) else "yes" for n in (CONTROL, ALTITUDE, LEVEL)
        }
        stretch = int(bool(gap) and s >= gap.stop)
        end = last if not gap or stretch else gap.start - 1
        speed = _last_at(speeds or {10: 0}, s)
        before = _last_at(speeds or {10: 0}, s - 1) if s - 1 in seconds else None
        if before is not None:
            speed_ms, area = speed_ms + 1000, area + 1000 * (speed + before) / 2
        trim = "-" if trims == {} else _last_at(trims or {10: 0}, s)
        lines.append(
            f"M1 | {s * 1000} | {stretch} | {end * 1000} | {speed_ms} | {area * WHOLE:.0f} | {speed} | 0 | 0.1 "
            f"| {trim} | yes | {is_held[CONTROL]} | {is_held[ALTITUDE]} | {is_held[LEVEL]}"
        )
    given: dict[str, Any] = {
        "retrim_events": points(EVENT.replace("60000", str(last * 1000))),
        "settling_steps": points("\n".join(lines)),
    }
    [row] = rows_of("settling_readings", **{**given, **inputs})
    return row


def _last_at(changes: dict[int, float], second: int) -> float:
    return [v for s, v in changes.items() if s <= second][-1]


def test_settled_from_the_start_is_zero_seconds() -> None:
    row = reading()
    assert (row["trim_settle_s"], row["is_settled"], row["is_upper_bound"]) == (0, True, False)
    assert (row["trim_set_s"], row["is_set"]) == (0, True)
    assert (row["followed_s"], row["set_followed_s"]) == (30, 20)
    assert row["settling_reason"] is None


@pytest.mark.parametrize("condition", [CONTROL, ALTITUDE, LEVEL])
def test_it_settles_after_the_last_second_that_breaks_a_condition(condition: str) -> None:
    assert reading({condition: range(12, 16)})["trim_settle_s"] == 6
    # a hold is broken by its very last second
    assert reading({condition: range(30, 31)})["trim_settle_s"] == 21
    assert reading({condition: range(31, 32)})["trim_settle_s"] == 0


def test_a_hold_that_lasts_to_the_events_end_exactly_is_long_enough() -> None:
    assert reading({LEVEL: range(10, 40)})["trim_settle_s"] == 30
    censored = reading({LEVEL: range(10, 41)})
    assert (censored["trim_settle_s"], censored["is_settled"]) == (None, False)
    assert censored["followed_s"] == 30


def test_set_does_not_ask_for_a_level_moment_but_for_a_level_mean() -> None:
    breathing = reading({LEVEL: range(10, 61)}, speeds={10: 300, 25: -300, 40: 300, 50: -300})
    assert breathing["is_settled"] is False
    assert breathing["is_set"] is True
    climbing = reading(speeds={10: 101})
    assert climbing["is_set"] is False
    just = reading(speeds={10: 100})
    assert just["trim_set_s"] == 0


def test_the_mean_begins_with_the_moment_itself() -> None:
    # before 12 s it climbed at 9000 ft/min: the step from 11 s to 12 s (mean 4500) is not the hold's
    row = reading(speeds={10: 9000, 12: 0})
    assert row["trim_set_s"] == 2


@pytest.mark.parametrize(("moved", "is_set"), [(0.0078125, True), (0.015625, False)])
def test_a_trim_that_moves_is_not_left_alone(moved: float, is_set: bool) -> None:
    assert reading(trims={10: 0, 40: moved})["is_set"] is is_set


def test_without_a_trim_only_settling_is_known() -> None:
    row = reading(trims={})
    assert (row["trim_settle_s"], row["is_settled"]) == (0, True)
    assert (row["trim_set_s"], row["is_set"], row["set_followed_s"]) == (None, None, None)
    assert row["settling_reason"] == "pitch trim not logged: trim_set_s unknown"


def test_a_hold_does_not_cross_a_gap_and_after_one_it_is_an_upper_bound() -> None:
    row = reading(gap=range(25, 30))
    assert (row["trim_settle_s"], row["is_upper_bound"]) == (20, True)
    assert (row["trim_set_s"], row["is_set_upper_bound"]) == (20, True)
    before = reading(gap=range(35, 40))
    assert (before["trim_settle_s"], before["is_upper_bound"]) == (0, False)
    assert (before["is_set"], before["is_set_upper_bound"]) == (False, False)


def test_an_event_that_was_set_only_after_a_gap_says_so_of_that_figure_alone() -> None:
    row = reading({LEVEL: range(10, 61)}, gap=range(15, 20))
    assert (row["is_settled"], row["is_upper_bound"]) == (False, False)
    assert (row["trim_set_s"], row["is_set_upper_bound"]) == (10, True)


def test_a_second_without_an_altitude_begins_no_hold_and_ends_none() -> None:
    lines = points(
        f"{STEPS}\n"
        + "\n".join(
            f"M1 | {s}000 | 0 | 60000 | 0 | 0 | 0 | 0 | 0.1 | 0 | {'no' if s in (10, 20) else 'yes'} | yes | yes | yes"
            for s in range(10, 61)
        )
    )
    row = reading(settling_steps=lines)
    assert (row["trim_settle_s"], row["trim_set_s"]) == (1, 1)


def test_lone_vertical_speeds_are_averaged_where_no_step_between_any_is_known() -> None:
    def told(speed: float) -> pa.Table:
        rows = [
            f"M1 | {s}000 | 0 | 60000 | 0 | 0 | {speed if s == 20 else '-'} | 0 | 0.1 | 0 | yes | yes | yes | -"
            for s in range(10, 61)
        ]
        return points("\n".join([STEPS, *rows]))

    assert reading(settling_steps=told(100))["trim_set_s"] == 0
    assert reading(settling_steps=told(101))["is_set"] is False


def test_two_events_do_not_run_into_each_other() -> None:
    events = f"{EVENT}\n    M2 | 60000 | 90000 | 1 | 4000 | centring | 0.1"
    rows = [
        f"{m} | {s}000 | 0 | {end}000 | 0 | 0 | 0 | 0 | 0.1 | 0 | yes | yes | yes | {level}"
        for m, first, end, level in (("M1", 45, 60, "yes"), ("M2", 60, 90, "yes"))
        for s in range(first, end + 1)
    ]
    found = rows_of(
        "settling_readings",
        retrim_events=points(events),
        settling_steps=points("\n".join([STEPS, *rows])),
    )
    assert [(r["maneuver_id"], r["trim_settle_s"]) for r in found] == [("M1", None), ("M2", 0)]


def test_an_event_shorter_than_the_hold_was_followed_for_no_time() -> None:
    row = reading(last=25)
    assert (row["is_settled"], row["followed_s"], row["set_followed_s"]) == (False, 0, 0)


NONE = points(STEPS)
SILENT = {
    "settling_steps": points(
        f"{STEPS}\nM1 | 10000 | 0 | 10000 | 0 | 0 | - | 0 | 0.1 | 0 | yes | yes | yes | -"
    )
}
BLIND = {
    "settling_steps": points(
        f"{STEPS}\nM1 | 10000 | 0 | - | 0 | 0 | 0 | 0 | 0.1 | 0 | no | yes | yes | yes"
    )
}
LOOSE = {
    "settling_steps": points(
        f"{STEPS}\nM1 | 10000 | 0 | 10000 | 0 | 0 | 0 | - | - | 0 | yes | - | yes | yes"
    )
}


@pytest.mark.parametrize(
    ("changed", "reason"),
    [
        ({"settling_steps": NONE}, "no altitude recorded"),
        (BLIND, "no altitude recorded"),
        ({"retrim_events": points(EVENT.replace("| 1   ", "| 2.1 "))}, "samples are too far apart to time a settling"),
        ({"retrim_events": points(EVENT.replace("4000 ", "-    "))}, "no target altitude"),
        (SILENT, "no vertical speed: none logged, and altitude too coarse or too seldom to derive it"),
        (LOOSE, "pitch control not logged"),
        ({"retrim_events": points(EVENT.replace("0.1", "-"))}, "no neutral for the device on that day"),
    ],
)  # fmt: skip
def test_where_nothing_can_be_said_all_is_null_and_says_why(
    changed: dict[str, Any], reason: str
) -> None:
    row = reading(**changed)
    assert row["settling_reason"] == reason
    assert {k for k, v in row.items() if v is not None} == {"maneuver_id", "settling_reason"}
