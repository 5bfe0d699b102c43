"""The k check on rows of single students: what of a student's quasi-identifiers may be shown, pure.

Quasi-identifiers are what somebody who knows the school could know of a student: the cohort, the
standard the student is held to, the classes of device flown. Each combination that is shown must be
shared by at least the minimum number of students (k-anonymity: Sweeney 2002, from memory).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace


@dataclass(frozen=True, order=True)
class Traits:
    """The quasi-identifiers of a student as they are shown; None: masked."""

    cohort: str | None
    standard_id: str | None
    device_classes: tuple[str, ...]

    @property
    def key(self) -> str:
        """The combination in one text."""
        return f"{self.cohort}|{self.standard_id}|{'+'.join(self.device_classes)}"


def is_standard_masked(key: str) -> bool:
    """Whether the combination that a key is of shows no standard."""
    return key.rsplit("|", 2)[1] == str(None)


def masked_traits(
    students: Mapping[str, Traits], minimum: int, linked: Iterable[Mapping[str, str]] = ()
) -> dict[str, Traits]:
    """What may be shown of each student; a student who is not in it must be left out.

    Whoever stands in a combination of too few gives up the cohort first, then the standard, then
    the rows flown in the rarer class of device, and is left out if that does not do. `linked` are
    earlier releases under the same codes, each with the combination shown for its students: the
    combinations count together.
    """
    earlier = tuple(linked)
    common = _commonest_class(students)
    shown = dict(students)
    while small := _in_small_classes(shown, earlier, minimum):
        wider = {student_id: _wider(shown[student_id], common) for student_id in small}
        masked = {student_id: traits for student_id, traits in wider.items() if traits is not None}
        if masked:
            shown |= masked
            continue
        for student_id in small:
            del shown[student_id]
    return shown


def _commonest_class(students: Mapping[str, Traits]) -> str:
    counts = Counter(c for traits in students.values() for c in traits.device_classes)
    return min(counts, key=lambda c: (-counts[c], c)) if counts else ""


def _in_small_classes(
    shown: Mapping[str, Traits], earlier: tuple[Mapping[str, str], ...], minimum: int
) -> list[str]:
    """Those whose combination, here and in the linked releases, is shared by too few."""
    keys = {
        student_id: (traits, *(release.get(student_id) for release in earlier))
        for student_id, traits in shown.items()
    }
    sizes = Counter(keys.values())
    return sorted(student_id for student_id, key in keys.items() if sizes[key] < minimum)


def _wider(traits: Traits, common: str) -> Traits | None:
    """The next step of masking; None where none is left."""
    if traits.cohort is not None:
        return replace(traits, cohort=None)
    if traits.standard_id is not None:
        return replace(traits, standard_id=None)
    if traits.device_classes != (common,) and common in traits.device_classes:
        return replace(traits, device_classes=(common,))
    return None
