"""What may be shown of single students: k-anonymity, by masking first and leaving out last."""

from collections import Counter

from hypothesis import given
from hypothesis import strategies as st

from pipeline.export.masking import Traits, masked_traits

SIM = ("simulator",)


def group(prefix: str, size: int, traits: Traits) -> dict[str, Traits]:
    return {f"{prefix}{n}": traits for n in range(size)}


def test_a_combination_that_ten_students_share_is_shown() -> None:
    students = group("a", 10, Traits("winter", "private", SIM))
    assert masked_traits(students, 10) == students


def test_a_small_cohort_gives_up_its_name_together_with_others() -> None:
    students = group("a", 6, Traits("winter", "private", SIM)) | group(
        "b", 6, Traits("spring", "private", SIM)
    )
    assert set(masked_traits(students, 10).values()) == {Traits(None, "private", SIM)}


def test_whoever_still_stands_out_is_left_out() -> None:
    students = group("a", 12, Traits("winter", "private", SIM)) | group(
        "b", 2, Traits("winter", "instrument", SIM)
    )
    shown = masked_traits(students, 10)
    assert {s[0] for s in shown} == {"a"}


def test_the_rarer_class_of_device_is_given_up_before_the_student() -> None:
    both = ("aeroplane", "simulator")
    students = group("a", 3, Traits("winter", "private", both)) | group(
        "b", 7, Traits("spring", "instrument", SIM)
    )
    shown = masked_traits(students, 10)
    assert set(shown.values()) == {Traits(None, None, SIM)}
    assert len(shown) == 10


def test_a_newcomer_in_a_linked_release_does_not_stand_out() -> None:
    students = group("a", 13, Traits("winter", "private", SIM))
    before = {f"a{n}": Traits("winter", "private", SIM).key for n in range(12)}
    shown = masked_traits(students, 10, [before])
    assert "a12" not in shown
    assert len(shown) == 12


TRAITS = st.builds(
    Traits,
    st.sampled_from(["winter", "spring", "(none)"]),
    st.sampled_from(["private", "instrument"]),
    st.sampled_from([SIM, ("aeroplane",), ("aeroplane", "simulator")]),
)


@given(st.lists(TRAITS, max_size=60), st.integers(2, 12), st.lists(TRAITS, max_size=60))
def test_every_combination_shown_is_shared_by_enough(
    drawn: list[Traits], minimum: int, before: list[Traits]
) -> None:
    students = {f"s{n:02d}": traits for n, traits in enumerate(drawn)}
    linked = {f"s{n:02d}": traits.key for n, traits in enumerate(before)}
    shown = masked_traits(students, minimum, [linked])
    sizes = Counter((traits, linked.get(student)) for student, traits in shown.items())
    assert all(size >= minimum for size in sizes.values())
    for student, traits in shown.items():
        assert traits.cohort in (None, students[student].cohort)
        assert set(traits.device_classes) <= set(students[student].device_classes)
