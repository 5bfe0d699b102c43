"""What forbids a release beside earlier ones, on small cases drawn by hand."""

import pytest

from pipeline.export.disclosure import Cell, Contribution
from pipeline.export.masking import Traits
from pipeline.export.refusals import (
    changed_by_few,
    differenced,
    masks_undone,
    told_apart_by_links,
)
from pipeline.export.register import Release

MINIMUM = 10


def release(
    name: str, students: range, told: str, first: str | None = None, last: str | None = None
) -> Release:
    """A release of one cell; `told` is what its students' parts tell."""
    parts = frozenset(Contribution(f"S{n}", f"{told} {n}".ljust(32)) for n in students)
    choice = {"first_date": first, "last_date": last}
    return Release(name, cells=(Cell("a", None, parts),), facts={"choice": choice})


def test_a_newcomer_is_seen_though_everybody_else_has_flown_more_since() -> None:
    """No part is the same, so nothing can be subtracted to the digit: but 12 became 13."""
    before, after = release("r1", range(12), "january"), release("r2", range(13), "february")
    assert list(differenced(after, (before,), MINIMUM)) == []
    [sentence] = changed_by_few(after, [before], MINIMUM)
    assert "1 to 9 students more or fewer" in sentence
    assert "r1: a" in sentence


@pytest.mark.parametrize("students", [range(12), range(22), range(20, 40)])
def test_the_same_students_or_ten_others_may_be_released_again(students: range) -> None:
    before, after = release("r1", range(12), "january"), release("r2", students, "february")
    assert list(changed_by_few(after, [before], MINIMUM)) == []


@pytest.mark.parametrize(
    ("first", "is_refused"), [("2026-01-31", True), ("2026-02-01", False), (None, True)]
)
def test_times_that_do_not_meet_are_not_compared_by_their_students(
    first: str | None, *, is_refused: bool
) -> None:
    before = release("r1", range(12), "january", None, "2026-01-31")
    after = release("r2", range(13), "february", first, None)
    assert bool(list(changed_by_few(after, [before], MINIMUM))) == is_refused
    assert bool(list(changed_by_few(before, [after], MINIMUM))) == is_refused


def test_a_link_may_not_tell_apart_who_left() -> None:
    traits = {f"S{n}": "winter|private|simulator" for n in range(12)}
    before = Release("r1", traits=traits)
    after = Release("r2", traits={s: t for s, t in traits.items() if s != "S3"})
    [sentence] = told_apart_by_links(after, [before], frozenset({"r1"}), MINIMUM)
    assert "linked to r1" in sentence
    assert list(told_apart_by_links(after, [before], frozenset(), MINIMUM)) == []
    assert list(told_apart_by_links(before, [before], frozenset({"r1"}), MINIMUM)) == []


def rows_of_students(name: str, level: str, standard: str | None) -> Release:
    traits = {f"S{n}": Traits("win|ter", standard, ("simulator",)).key for n in range(12)}
    return Release(name, traits=traits, facts={"choice": {"level": level}})


@pytest.mark.parametrize(
    ("level", "standard", "is_refused"),
    [("student", None, True), ("student", "private", False), ("maneuver", None, False)],
)
def test_weeks_may_not_be_set_beside_maneuvers_where_the_standard_is_masked(
    level: str, standard: str | None, *, is_refused: bool
) -> None:
    before = rows_of_students("r1", "maneuver", "private")
    after = rows_of_students("r2", level, standard)
    for one, other in ((before, after), (after, before)):
        linked = frozenset({one.release_id})
        assert bool(list(masks_undone(other, [one], linked))) == is_refused
        assert list(masks_undone(other, [one], frozenset())) == []
