"""What must not change what is found in a log: where north is, how high one flies, the recorder's rate."""

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
import pyarrow as pa
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.logs import Formula, log_inputs, ramp, samples, session
from tests.tables import rows_of

few = settings(max_examples=3, deadline=None)
Rows = list[dict[str, Any]]


@dataclass(frozen=True)
class Lesson:
    """Level, a turn, level, a climb or descent, a level-off; a student's wander on top."""

    turn_deg: int
    change_ft: int
    wander_ft: int
    phase: float

    @property
    def climbed_at(self) -> float:
        return 250 + abs(self.turn_deg) / 3

    @property
    def climb_s(self) -> float:
        return abs(self.change_ft) / 500 * 60

    @property
    def seconds(self) -> float:
        return self.climbed_at + self.climb_s + 180

    def heading(self, beside_deg: float) -> Formula:
        turn = ramp((100, 340), (100 + abs(self.turn_deg) / 3, 340 + self.turn_deg))
        return lambda t: (turn(t) + beside_deg) % 360

    def altitude(self, raised_ft: float) -> Formula:
        climb = ramp(
            (self.climbed_at, 3000), (self.climbed_at + self.climb_s, 3000 + self.change_ft)
        )
        return lambda t: (
            climb(t) + raised_ft + self.wander_ft * np.sin(2 * np.pi * t / 90 + self.phase)
        )


lessons = st.lists(
    st.builds(
        Lesson,
        turn_deg=st.sampled_from([-90, -30, 25, 60, 140]),
        change_ft=st.sampled_from([-1200, -500, 400, 900]),
        wander_ft=st.sampled_from([0, 40, 80]),
        phase=st.floats(0, 6),
    ),
    min_size=6,
    max_size=6,
)


@dataclass(frozen=True)
class Log:
    """One way of logging a lesson."""

    lesson: Lesson
    turned_deg: float = 0
    raised_ft: float = 0
    hz: float = 4
    without: tuple[tuple[float, float], ...] = ()


def found(*logs: Log) -> list[Rows]:
    """What is found in each of some logs, all searched in one go."""
    tables = [
        samples(
            log.lesson.seconds,
            log.hz,
            session_id=f"s{number:02d}",
            without=log.without,
            altitude_ft=log.lesson.altitude(log.raised_ft),
            heading_deg=log.lesson.heading(log.turned_deg),
        )
        for number, log in enumerate(logs)
    ]
    together = {
        **log_inputs(tables[0]),
        "stored_samples": pa.concat_tables(tables),
        "stored_sessions": pa.concat_tables([session(table) for table in tables]),
    }
    rows = rows_of("inferred_maneuvers", **together)
    return [[r for r in rows if r["session_id"] == f"s{n:02d}"] for n in range(len(logs))]


def pairs(plain: list[Log], other: list[Log]) -> list[tuple[Rows, Rows]]:
    """The finds in the same lessons logged in two ways."""
    rows = found(*plain, *other)
    return list(zip(rows[: len(plain)], rows[len(plain) :], strict=True))


@few
@given(lessons, st.integers(1, 359), st.sampled_from([-1000, 300, 7000]))
def test_neither_the_heading_nor_the_height_of_a_lesson_matters(
    flown: list[Lesson], turned_deg: int, raised_ft: int
) -> None:
    moved = [Log(lesson, turned_deg, raised_ft) for lesson in flown]
    for plain, other in pairs([Log(lesson) for lesson in flown], moved):
        assert len(plain) == len(other)
        for before, after in zip(plain, other, strict=True):
            assert before["kind"] == after["kind"]
            assert (before["start_s"], before["end_s"]) == (after["start_s"], after["end_s"])
            assert abs(after["target_altitude_ft"] - before["target_altitude_ft"] - raised_ft) <= 10
            off = (after["target_heading_deg"] - before["target_heading_deg"] - turned_deg) % 360
            assert min(off, 360 - off) <= 1


@few
@given(lessons, st.sampled_from([1, 2, 5, 20]))
def test_the_recorders_rate_moves_no_edge_by_more_than_two_seconds(
    flown: list[Lesson], hz: int
) -> None:
    slower = [Log(lesson, hz=hz) for lesson in flown]
    for plain, other in pairs([Log(lesson) for lesson in flown], slower):
        assert [r["kind"] for r in plain] == [r["kind"] for r in other]
        for before, after in zip(plain, other, strict=True):
            assert abs(after["start_s"] - before["start_s"]) <= 2
            assert abs(after["end_s"] - before["end_s"]) <= 2


@few
@given(lessons, st.integers(10, 60))
def test_a_gap_of_a_few_seconds_in_level_flight_changes_no_kind(
    flown: list[Lesson], at: int
) -> None:
    cut = [Log(lesson, without=((at, at + 6),)) for lesson in flown]
    for plain, other in pairs([Log(lesson) for lesson in flown], cut):
        assert [r["kind"] for r in plain] == [r["kind"] for r in other]


@few
@given(lessons)
def test_finds_do_not_overlap_and_lie_inside_the_log(flown: list[Lesson]) -> None:
    for lesson, rows in zip(flown, found(*(Log(lesson) for lesson in flown)), strict=True):
        assert rows[0]["start_s"] >= 0
        assert rows[-1]["end_s"] <= np.ceil(lesson.seconds)
        for earlier, later in pairwise(rows):
            assert earlier["end_s"] <= later["start_s"]


@few
@given(lessons)
def test_what_is_found_in_a_log_does_not_depend_on_the_logs_beside_it(flown: list[Lesson]) -> None:
    together = found(*(Log(lesson) for lesson in flown))
    [alone] = found(Log(flown[0]))
    assert together[0] == alone
