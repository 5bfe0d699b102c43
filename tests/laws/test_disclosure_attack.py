"""An attacker with all published figures and linear algebra: no small group of students can be
reached.

Every additive figure of a cell (a count, a sum, a mean times its count) is a sum over its
contributions. All that can be computed from published cells by adding and subtracting, with any
weights, is therefore a vector in the row space of the matrix of cells by contributions. The
attacker looks for a vector that is zero outside a small group.
"""

from collections.abc import Callable, Iterable
from itertools import combinations

import numpy as np
import pytest
from hypothesis import HealthCheck, Phase, find, given, settings
from hypothesis import strategies as st

from pipeline.export.disclosure import Cell, Contribution, small_groups, withheld_cells

Store = list[tuple[int, int, int, int]]
"""Contributions as student, cohort of the student, week (0: not known), value."""

MINIMUM = 4


def cells_of(store: Store) -> list[Cell]:
    """All cells of a store: the stratum, its cohorts, their weeks."""
    held: dict[str, tuple[str | None, set[Contribution]]] = {}
    for student, cohort, week, value in store:
        part = Contribution(f"S{student}", f"{cohort}/{week}".ljust(16) + f"{value}")
        for name, parent in (
            ("all", None),
            (f"all/{cohort}", "all"),
            *([(f"all/{cohort}/{week}", f"all/{cohort}")] if week else []),
        ):
            held.setdefault(name, (parent, set()))[1].add(part)
    return [Cell(name, parent, frozenset(parts)) for name, (parent, parts) in held.items()]


def shown_of(cells: list[Cell], minimum: int = MINIMUM) -> list[Cell]:
    withheld = withheld_cells(cells, minimum)
    return [cell for cell in cells if cell.cell_id not in withheld]


def reachable(shown: Iterable[Cell], group: set[str], known: frozenset[Contribution]) -> bool:
    """Whether some sum of published figures rests on students of `group` alone (but for what is
    known).
    """
    cells = list(shown)
    columns = sorted({c for cell in cells for c in cell.contributions} - known)
    if not columns:
        return False
    matrix = np.array([[c in cell.contributions for c in columns] for cell in cells], float)
    outside = matrix[:, [c.student_id not in group for c in columns]]
    left = np.linalg.matrix_rank(outside) if outside.size else 0
    return bool(np.linalg.matrix_rank(matrix) > left)


def targets(cells: list[Cell], minimum: int) -> list[set[str]]:
    """Groups worth attacking: small cells, small differences of two cells, what a total leaves of
    its parts.
    """
    sets = [frozenset(c.contributions) for c in cells]
    rests = [a - b for a, b in combinations(sets, 2)] + [b - a for a, b in combinations(sets, 2)]
    for cell in cells:
        below = [c.contributions for c in cells if c.parent_id == cell.cell_id]
        rests += [cell.contributions.difference(*below)] if below else []
    students = ({c.student_id for c in rest} for rest in (*sets, *rests))
    return [group for group in students if 0 < len(group) < minimum]


ROWS = st.tuples(st.integers(0, 24), st.integers(0, 4), st.integers(0, 2))


@st.composite
def stores(draw: st.DrawFn) -> Store:
    cohorts = draw(st.lists(st.integers(1, 4), min_size=25, max_size=25))
    rows = draw(st.sets(ROWS, min_size=1, max_size=60))
    return [(student, cohorts[student], week, value) for student, week, value in sorted(rows)]


def found_in(cells: list[Cell], shown: list[Cell], known: frozenset[Contribution]) -> bool:
    """Whether the attacker reaches one of the groups worth attacking."""
    rest = [Cell(c.cell_id, c.parent_id, c.contributions - known) for c in cells]
    return any(reachable(shown, group, known) for group in targets(rest, MINIMUM))


def of_any_value(cells: Iterable[Cell]) -> list[Cell]:
    """The cells to a reader who can turn the values of one release into those of the other."""
    return [
        Cell(c.cell_id, c.parent_id, frozenset(part.of_any_value() for part in c.contributions))
        for c in cells
    ]


def opened_of(cells: list[Cell], students: set[int]) -> frozenset[Contribution]:
    """What rows of these students tell."""
    parts = {part for cell in cells for part in cell.contributions}
    return frozenset(part for part in parts if int(part.student_id[1:]) in students)


def one_release_is_open(store: Store) -> bool:
    cells = cells_of(store)
    return found_in(cells, shown_of(cells), frozenset())


def two_releases_are_open(before: Store, changed: Store) -> bool:
    first, second = cells_of(before), cells_of(changed)
    shown = [shown_of(first), shown_of(second)]
    if small_groups([("r1", shown[0]), ("r2", shown[1])], (), MINIMUM):
        return False  # refused
    return found_in([*first, *second], [*shown[0], *shown[1]], frozenset())


def other_settings_are_open(before: Store, changed: Store) -> bool:
    """As two releases, but a new tolerance has changed every value by what a reader knows."""
    first = cells_of(before)
    second = cells_of([(s, c, w, value + 100) for s, c, w, value in changed])
    shown = [shown_of(first), shown_of(second)]
    if small_groups([("r1", shown[0]), ("r2", shown[1])], (), MINIMUM):
        return False  # refused
    return found_in(
        of_any_value([*first, *second]), of_any_value([*shown[0], *shown[1]]), frozenset()
    )


def cells_beside_rows_are_open(store: Store, students: set[int]) -> bool:
    cells = cells_of(store)
    opened = opened_of(cells, students)
    shown = shown_of(cells)
    if small_groups([("r1", shown)], opened, MINIMUM):
        return False  # refused
    return found_in(cells, shown, opened)


@st.composite
def pairs(draw: st.DrawFn) -> tuple[Store, Store]:
    """A store, and the same with some rows gone, some new and some of another value."""
    before = draw(stores())
    kept = [row for row in before if draw(st.integers(0, 9)) < 9]
    more = draw(stores()) if draw(st.booleans()) else []
    held = {(s, w, v): c for s, c, w, v in [*more, *kept]}
    cohorts = {s: c for s, c, _, _ in before}
    return before, [(s, cohorts.get(s, c), w, v) for (s, w, v), c in held.items()]


QUICK = settings(max_examples=250, deadline=None, suppress_health_check=list(HealthCheck))
THOUSANDS = settings(max_examples=3000, deadline=None, suppress_health_check=list(HealthCheck))


@QUICK
@given(stores())
def test_no_small_group_can_be_had_from_one_release(store: Store) -> None:
    assert not one_release_is_open(store)


@QUICK
@given(pairs())
def test_no_small_group_can_be_had_from_two_releases(both: tuple[Store, Store]) -> None:
    assert not two_releases_are_open(*both)
    assert not other_settings_are_open(*both)


@QUICK
@given(stores(), st.sets(st.integers(0, 24)))
def test_no_small_group_can_be_had_from_cells_and_rows(store: Store, opened: set[int]) -> None:
    assert not cells_beside_rows_are_open(store, opened)


@pytest.mark.slow
@THOUSANDS
@given(pairs(), st.sets(st.integers(0, 24)))
def test_thousands_of_stores_hold(both: tuple[Store, Store], opened: set[int]) -> None:
    assert not one_release_is_open(both[0])
    assert not two_releases_are_open(*both)
    assert not other_settings_are_open(*both)
    assert not cells_beside_rows_are_open(both[0], opened)


def large_enough(cells: list[Cell]) -> list[Cell]:
    """A planted leak: small cells are withheld, and nothing beside them."""
    return [cell for cell in cells if cell.student_count >= MINIMUM]


def with_safe_cohorts(cells: list[Cell]) -> list[Cell]:
    """A planted leak: cohorts are hidden by one another, weeks are not."""
    above = [cell for cell in cells if cell.cell_id.count("/") < 2]
    shown = {cell.cell_id for cell in shown_of(above)}
    weeks = [cell for cell in large_enough(cells) if cell.parent_id in shown - {"all"}]
    return [cell for cell in cells if cell.cell_id in shown] + weeks


def without_the_rest(cells: list[Cell]) -> list[Cell]:
    """A planted leak: what is in a cell and in none of its parts is forgotten."""
    below: dict[str | None, set[Contribution]] = {}
    for cell in cells:
        below.setdefault(cell.parent_id, set()).update(cell.contributions)
    judged = [
        Cell(c.cell_id, c.parent_id, frozenset(below.get(c.cell_id, c.contributions)))
        for c in sorted(cells, key=lambda c: -len(c.cell_id))
    ]
    shown = {cell.cell_id for cell in shown_of(judged)}
    return [cell for cell in cells if cell.cell_id in shown]


SEARCH = settings(
    max_examples=2000, deadline=None, derandomize=True, database=None, phases=[Phase.generate]
)


@pytest.mark.parametrize("leak", [large_enough, with_safe_cohorts, without_the_rest])
def test_the_attacker_finds_a_planted_leak(leak: Callable[[list[Cell]], list[Cell]]) -> None:
    def is_found(store: Store) -> bool:
        cells = cells_of(store)
        return found_in(cells, leak(cells), frozenset())

    find(stores(), is_found, settings=SEARCH)


def test_the_attacker_finds_a_release_that_was_not_compared() -> None:
    def is_found(both: tuple[Store, Store]) -> bool:
        first, second = cells_of(both[0]), cells_of(both[1])
        return found_in([*first, *second], shown_of(first) + shown_of(second), frozenset())

    find(pairs(), is_found, settings=SEARCH)


def test_the_attacker_finds_cells_that_were_not_held_to_the_rows() -> None:
    def is_found(drawn: tuple[Store, set[int]]) -> bool:
        cells = cells_of(drawn[0])
        return found_in(cells, shown_of(cells), opened_of(cells, drawn[1]))

    find(st.tuples(stores(), st.sets(st.integers(0, 24))), is_found, settings=SEARCH)


def test_the_attacker_finds_what_is_not_protected() -> None:
    """Three students of a cohort, hidden alone: total less the other cohort tells them."""
    store = [(n, 1, 1, 0) for n in range(3)] + [(n, 2, 1, 0) for n in range(10, 20)]
    cells = cells_of(store)
    naive = [cell for cell in cells if cell.student_count >= MINIMUM]
    groups = targets(cells, MINIMUM)
    assert any(reachable(naive, group, frozenset()) for group in groups)
    assert not any(reachable(shown_of(cells), group, frozenset()) for group in groups)


def test_the_attacker_finds_a_student_who_joined_between_two_releases() -> None:
    before = [(n, 1, 1, 0) for n in range(12)]
    after = [*before, (12, 1, 1, 0)]
    shown = [*shown_of(cells_of(before)), *shown_of(cells_of(after))]
    assert reachable(shown, {"S12"}, frozenset())
    assert small_groups(
        [("r1", shown_of(cells_of(before))), ("r2", shown_of(cells_of(after)))], (), MINIMUM
    )


@QUICK
@given(stores())
def test_a_cell_is_withheld_only_for_a_reason(store: Store) -> None:
    """Not everything is withheld: where every group is large enough, every cell is shown."""
    cells = cells_of(store)
    withheld = withheld_cells(cells, MINIMUM)
    below = {c.parent_id for c in cells}
    rests = [
        cell.contributions.difference(
            *(c.contributions for c in cells if c.parent_id == cell.cell_id)
        )
        for cell in cells
        if cell.cell_id in below
    ]
    small_rest = any(0 < len({c.student_id for c in rest}) < MINIMUM for rest in rests)
    if all(cell.student_count >= MINIMUM for cell in cells) and not small_rest:
        assert withheld == frozenset()
    assert all(c.cell_id in withheld for c in cells if c.student_count < MINIMUM)
