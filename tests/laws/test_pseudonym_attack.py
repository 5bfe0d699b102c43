"""An attacker with every release of rows, who knows the school: no code can be told to be a student.

The attacker knows each student's cohort, standard and devices, and who flew when; sees the codes, what is
shown of each, the figures and their order; and tries to link codes of releases that are not linked, and to
narrow a code down to fewer students than the minimum.
"""

import random
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import pytest
from hypothesis import HealthCheck, Phase, find, given, settings
from hypothesis import strategies as st

from pipeline.export.keys import Keys
from pipeline.export.masking import Traits, masked_traits
from pipeline.export.refusals import shown_before, told_apart_by_links
from pipeline.export.register import Release

MINIMUM = 4
SIM, BOTH = ("simulator",), ("aeroplane", "simulator")
School = list[tuple[str, str, tuple[int, ...]]]
"""Students by cohort, standard and the weeks in which they flew."""


@dataclass(frozen=True)
class Asked:
    """A release that was asked for: from a week to a week, linked to the first one or not."""

    first: int
    last: int
    is_linked: bool


@dataclass(frozen=True)
class Published:
    """What the public has of a release, and (for the judge) whose codes they are."""

    release_id: str
    owner: str
    rows: dict[str, tuple[str, frozenset[str]]]
    whose: dict[str, str]


def published(
    school: School, asked: list[Asked], *, gates: frozenset[str], seed: int = 7
) -> list[Published]:
    """The releases that the gates let through, made as an export makes them."""
    draw = random.Random(seed)
    keys, register, made = Keys(Path("keys.json")), list[Release](), list[Published]()
    for number, wish in enumerate(asked):
        link = register[0].release_id if wish.is_linked and register else None
        linked = keys.linked_releases(link) if link else frozenset[str]()
        flown = {
            f"S{n:02d}": Traits(cohort, standard, SIM if n % 5 else BOTH)
            for n, (cohort, standard, weeks) in enumerate(school)
            if any(wish.first <= week <= wish.last for week in weeks)
        }
        before = [r.traits for r in register if r.release_id in linked]
        shown = masked_traits(flown, MINIMUM, before) if "k" in gates else flown
        weeks_of = {f"S{n:02d}": weeks for n, (_, _, weeks) in enumerate(school)}
        rows = frozenset(
            (s, f"{s}-{w}") for s in shown for w in weeks_of[s] if wish.first <= w <= wish.last
        )
        traits = {s: t.key for s, t in shown.items()}
        release = Release(f"r{number}", rows=rows, traits=traits)
        refused = [
            *(shown_before(release, tuple(register), linked) if "rows" in gates else []),
            *(told_apart_by_links(release, register, linked, MINIMUM) if "links" in gates else []),
        ]
        if refused or not rows:
            continue
        keys.draw(
            release.release_id, link, {"student": shown}, lambda: f"{draw.randrange(16**8):08x}"
        )
        held = keys.codes[keys.owner_of(release.release_id)]["student"]
        told = {held[s]: (key, _figures(rows, s)) for s, key in traits.items()}
        register.append(release)
        made.append(
            Published(
                release.release_id,
                keys.owner_of(release.release_id),
                told,
                {held[s]: s for s in shown},
            )
        )
    return made


def _figures(rows: frozenset[tuple[str, str]], student: str) -> frozenset[str]:
    """The figures of a student's rows: no two sessions have the same, so the session stands for its own."""
    return frozenset(session for s, session in rows if s == student)


def links_found(releases: list[Published]) -> int:
    """Codes of releases under other keys that an equal code or figure gives away as one student's."""
    found = 0
    for n, one in enumerate(releases):
        for other in releases[n + 1 :]:
            if one.owner != other.owner:
                found += len(one.rows.keys() & other.rows.keys())
                found += sum(
                    bool(mine & theirs)
                    for _, mine in one.rows.values()
                    for _, theirs in other.rows.values()
                )
    return found


def smallest_crowd(releases: list[Published]) -> int:
    """The fewest students that any code could be, to somebody who knows who is in which release and
    what each release shows of whom.
    """
    by_owner: dict[str, list[Published]] = {}
    for release in releases:
        by_owner.setdefault(release.owner, []).append(release)
    sizes = []
    for same in by_owner.values():
        codes = {code for release in same for code in release.rows}
        seen = Counter(tuple(r.rows[c][0] if c in r.rows else None for r in same) for c in codes)
        sizes += list(seen.values())
    return min(sizes, default=MINIMUM)


SCHOOLS = st.lists(
    st.tuples(
        st.sampled_from(["autumn", "winter"]),
        st.sampled_from(["private", "private", "instrument"]),
        st.sets(st.integers(1, 6), min_size=1, max_size=5).map(lambda weeks: tuple(sorted(weeks))),
    ),
    min_size=1,
    max_size=30,
)
ASKED = st.lists(
    st.builds(Asked, st.integers(1, 4), st.integers(2, 6), st.booleans()), min_size=1, max_size=4
)
ALL = frozenset(["k", "rows", "links"])
QUICK = settings(max_examples=200, deadline=None, suppress_health_check=list(HealthCheck))
THOUSANDS = settings(max_examples=5000, deadline=None, suppress_health_check=list(HealthCheck))


def attack(school: School, asked: list[Asked]) -> None:
    releases = published(school, asked, gates=ALL)
    assert links_found(releases) == 0
    assert smallest_crowd(releases) >= MINIMUM


@QUICK
@given(SCHOOLS, ASKED)
def test_no_code_can_be_told_to_be_a_student(school: School, asked: list[Asked]) -> None:
    attack(school, asked)


@pytest.mark.slow
@THOUSANDS
@given(SCHOOLS, ASKED)
def test_in_thousands_of_schools_no_code_can_be_told(school: School, asked: list[Asked]) -> None:
    attack(school, asked)


@pytest.mark.parametrize("open_gate", sorted(ALL))
def test_the_attacker_finds_a_gate_that_was_left_open(open_gate: str) -> None:
    def is_found(drawn: tuple[School, list[Asked]]) -> bool:
        releases = published(*drawn, gates=ALL - {open_gate})
        return links_found(releases) > 0 or smallest_crowd(releases) < MINIMUM

    search = settings(
        max_examples=5000, deadline=None, derandomize=True, database=None, phases=[Phase.generate]
    )
    find(st.tuples(SCHOOLS, ASKED), is_found, settings=search)


def test_the_order_of_codes_says_nothing_of_the_order_of_students() -> None:
    """Whoever guesses that codes in order are students in order is right once a release, as by chance."""
    school: School = [("autumn", "private", (1,))] * 20
    right = []
    for seed in range(1500):
        [release] = published(school, [Asked(1, 2, is_linked=False)], gates=ALL, seed=seed)
        guessed = dict(zip(sorted(release.rows), sorted(release.whose.values()), strict=True))
        right.append(sum(release.whose[code] == student for code, student in guessed.items()))
    assert sum(right) / len(right) == pytest.approx(1, abs=0.1)
