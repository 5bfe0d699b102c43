"""Disclosure control, pure: which cells may be shown, whether releases can be differenced, who
stands out.

A *contribution* is one student's part of a figure (a week in one aspect), known by the student and
by a digest of what it holds. A *cell* is a set of contributions; the cells of one release nest: a
week in a cohort in a stratum. Whoever adds and subtracts published figures can reach nothing but
unions of the groups of contributions that lie in the same published cells (any such sum has one
coefficient per group). So it is enough that every group holds no student at all, or at least the
minimum number of students.

Sources: cells of few students withheld, and others with them where totals would give those away, as
US states do for school statistics (the commonest minimum is 10: NCES 2011-603, SLDS Technical Brief
3); k-anonymity: Sweeney 2002, from memory.
"""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Final, NamedTuple

LEAST_MINIMUM: Final = 5
"""No school may set its minimum cell below this: thresholds in use for school statistics run from 5
to 30.
"""


LEAST_CURVE_STEP_S: Final = 10
"""No school may tell its settling curves at finer steps: a curve with a step for each event is a
list of them.
"""

_OF_WHAT_DIGITS: Final = 16
"""How many digits of a contribution's digest tell what it rests on; the rest tell its value."""


class Contribution(NamedTuple):
    """One student's part of a figure; another digest says that its value is another."""

    student_id: str
    digest: str

    def of_any_value(self) -> Contribution:
        """The same part whatever its value: what it rests on alone."""
        return self._replace(digest=self.digest[:_OF_WHAT_DIGITS])


@dataclass(frozen=True)
class Cell:
    """A cell that has contributions; `parent_id` is the cell that it is a part of (None: of
    none).
    """

    cell_id: str
    parent_id: str | None
    contributions: frozenset[Contribution]

    @cached_property
    def student_count(self) -> int:
        """How many students contribute."""
        return count_students(self.contributions)


def count_students(contributions: Iterable[Contribution]) -> int:
    """How many different students stand behind some contributions."""
    return len({c.student_id for c in contributions})


def withheld_cells(
    cells: Collection[Cell], minimum: int, order: Callable[[str], str] | None = None
) -> frozenset[str]:
    """The ids of the cells that may not be shown, so that the rest gives away no group below
    `minimum`.

    A cell of fewer students is withheld, and with a cell all its parts. Where what is left of a
    shown cell after its shown parts would be a small group, one more part is withheld, and so on;
    where no part is left, the cell itself. Which part comes first is a matter of `order` (of a
    cell's id), by default of chance drawn from the contributions themselves: the same for the same
    store, and unknown to a reader, who could otherwise tell the size of a withheld part from its
    having been chosen.
    """
    parts = _parts(cells, order or _order_of(cells))
    forced: set[str] = set()
    while True:
        hidden: set[str] = set()
        unsafe = _hide_below(None, parts, minimum, hidden, forced)
        if unsafe is None:
            return frozenset(hidden)
        forced.add(unsafe)


def _order_of(cells: Collection[Cell]) -> Callable[[str], str]:
    """An order of cells that only somebody who knows every contribution can tell."""
    known = sorted({contribution for cell in cells for contribution in cell.contributions})
    secret = hashlib.sha256(repr(known).encode()).hexdigest()
    return lambda cell_id: hashlib.sha256(f"{secret} {cell_id}".encode()).hexdigest()


def _parts(cells: Collection[Cell], order: Callable[[str], str]) -> Mapping[str | None, list[Cell]]:
    """The parts of each cell (of None: the cells that are part of none), in order."""
    parts: dict[str | None, list[Cell]] = defaultdict(list)
    for cell in sorted(cells, key=lambda c: (order(c.cell_id), c.cell_id)):
        parts[cell.parent_id].append(cell)
    return parts


def _hide_below(
    whole: Cell | None,
    parts: Mapping[str | None, list[Cell]],
    minimum: int,
    hidden: set[str],
    forced: set[str],
) -> str | None:
    """Withhold parts of `whole` and of its parts; gives the id of a cell that no withholding below
    it saves.
    """
    below = parts.get(whole.cell_id if whole else None, [])
    shown = [c for c in below if c.student_count >= minimum and c.cell_id not in forced]
    while whole is not None and not _is_safe(whole, below, shown, minimum):
        if not shown:
            return whole.cell_id
        shown.pop(0)
    kept = {c.cell_id for c in shown}
    for cell in below:
        if cell.cell_id not in kept:
            hidden.update(_with_all_parts(cell, parts))
    for cell in shown:
        unsafe = _hide_below(cell, parts, minimum, hidden, forced)
        if unsafe is not None:
            return unsafe
    return None


def _with_all_parts(cell: Cell, parts: Mapping[str | None, list[Cell]]) -> Iterator[str]:
    yield cell.cell_id
    for part in parts.get(cell.cell_id, []):
        yield from _with_all_parts(part, parts)


def _is_safe(whole: Cell, below: list[Cell], shown: list[Cell], minimum: int) -> bool:
    """Whether what is left of `whole` after its shown parts tells nothing about a small group."""
    seen: set[Contribution] = set()
    for cell in shown:
        seen |= cell.contributions
    left = count_students(whole.contributions - seen)
    kept = {c.cell_id for c in shown}
    counts = [c.student_count for c in below if c.cell_id not in kept]
    # If every withheld part is one short of the minimum, their sum alone tells each of them.
    is_told = bool(counts) and all(count == minimum - 1 for count in counts)
    return left == 0 or (left >= minimum and not is_told)


def small_groups(
    shown: Iterable[tuple[str, Collection[Cell]]], opened: Collection[Contribution], minimum: int
) -> tuple[frozenset[str], ...]:
    """The groups of 1 to `minimum` - 1 students that published cells, taken together, single out.

    Groups are sought twice: by what contributions are, and by what they rest on. Between two
    releases a school may change a tolerance, which changes every value; a reader who knows by how
    much turns the old figures into the new ones, and whoever joined in between is what is left.

    `shown` are the shown cells of each release by its id; `opened` are contributions that are known
    because they were published as rows. A group is given as the names ("release: cell") of the
    cells it is held by. Empty: nobody can reach fewer than `minimum` students by adding and
    subtracting.
    """
    every = tuple(shown)
    found = {
        *_small_groups(every, opened, minimum, lambda part: part),
        *_small_groups(every, opened, minimum, Contribution.of_any_value),
    }
    return tuple(sorted(found, key=sorted))


def _small_groups(
    shown: Iterable[tuple[str, Collection[Cell]]],
    opened: Collection[Contribution],
    minimum: int,
    as_seen: Callable[[Contribution], Contribution],
) -> Iterator[frozenset[str]]:
    holders: dict[Contribution, set[str]] = defaultdict(set)
    for release_id, cells in shown:
        for cell in cells:
            for contribution in cell.contributions:
                holders[as_seen(contribution)].add(f"{release_id}: {cell.cell_id}")
    known = {as_seen(contribution) for contribution in opened}
    groups: dict[frozenset[str], set[str]] = defaultdict(set)
    for contribution, names in holders.items():
        if contribution not in known:
            groups[frozenset(names)].add(contribution.student_id)
    return (names for names, students in groups.items() if len(students) < minimum)
