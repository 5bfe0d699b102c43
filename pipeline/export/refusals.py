"""What forbids a release, each in one sentence for whoever asked for it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from pipeline.export.disclosure import small_groups
from pipeline.export.masking import is_standard_masked
from pipeline.export.register import Release


def nothing_left(release: Release, minimum: int) -> Iterable[str]:
    """A release without any group of students that is large enough."""
    if not (release.cells or release.rows):
        yield f"nothing can be released: no group of {minimum} students or more"


def differenced(release: Release, earlier: tuple[Release, ...], minimum: int) -> Iterable[str]:
    """Groups that this release would single out together with earlier ones, in one sentence."""
    every = (*earlier, release)
    opened = frozenset().union(*(r.opened for r in every))
    found = small_groups([(r.release_id, r.cells) for r in every], opened, minimum)
    if found:
        names = sorted({name for group in found for name in group})
        more = f" and {len(names) - 3} more" if len(names) > 3 else ""
        yield (
            f"beside earlier releases it would single out groups of 1 to {minimum - 1} students, in "
            f"{'; '.join(names[:3])}{more}: choose a time that no earlier release covers"
        )


def changed_by_few(release: Release, earlier: Iterable[Release], minimum: int) -> Iterable[str]:
    """Cells that hold almost the students that they held in an earlier release of a time that meets
    this one's, in one sentence.

    Where every student has flown more since, no figure is the same and nothing can be subtracted
    exactly; but the newcomer is most of what changed.
    """
    names = {
        f"{other.release_id}: {cell_id}"
        for other in earlier
        if release.meets(other)
        for cell_id, students in _students(release).items()
        if 0 < len(students ^ _students(other).get(cell_id, students)) < minimum
    }
    if names:
        listed = sorted(names)
        more = f" and {len(listed) - 3} more" if len(listed) > 3 else ""
        yield (
            f"cells would hold 1 to {minimum - 1} students more or fewer than in earlier releases, "
            f"{'; '.join(listed[:3])}{more}: choose a time that no earlier release covers"
        )


def _students(release: Release) -> dict[str, frozenset[str]]:
    return {
        c.cell_id: frozenset(part.student_id for part in c.contributions) for c in release.cells
    }


def shown_before(
    release: Release, earlier: tuple[Release, ...], linked: frozenset[str]
) -> Iterable[str]:
    """Rows that were released before under other codes: equal figures would tell which codes are
    one student.
    """
    for other in earlier:
        if other.release_id not in linked and release.rows & other.rows:
            yield (
                f"release {other.release_id} holds some of the same sessions under other codes, and equal "
                "figures would link them: link this release to it, or choose another time"
            )


def masks_undone(
    release: Release, earlier: Iterable[Release], linked: frozenset[str]
) -> Iterable[str]:
    """Links between weeks and maneuvers of students whose standard is masked: a week's ratio over
    its maneuvers' figures is one over the tolerance.
    """
    for other in earlier:
        keys = (*release.traits.values(), *other.traits.values())
        if (
            other.release_id in linked
            and release.level != other.level
            and any(is_standard_masked(key) for key in keys)
        ):
            yield (
                f"linked to {other.release_id} it would set weeks beside maneuvers of students whose "
                "standard is masked, and tell the standard: release another time, without a link"
            )


def told_apart_by_links(
    release: Release, earlier: Iterable[Release], linked: frozenset[str], minimum: int
) -> Iterable[str]:
    """Students who, under codes that releases share, are in some of these and not in others, and are
    too few: somebody who knows who left in between would know their code.
    """
    same = [*(r for r in earlier if r.release_id in linked), release]
    students = {student_id for r in same for student_id in r.traits}
    sizes = Counter(tuple(r.traits.get(student_id) for r in same) for student_id in students)
    if len(same) > 1 and any(size < minimum for size in sizes.values()):
        yield (
            f"linked to {', '.join(sorted(linked))} it would tell apart groups of 1 to {minimum - 1} "
            "students, who are in one release and not in the other: release it without a link, or for the "
            "same students"
        )
