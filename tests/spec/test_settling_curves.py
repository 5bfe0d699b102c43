"""settling_curves, settling_medians, settling_differences (published values: tests/published)."""

from typing import Any

import numpy as np
import pytest

from tests.tables import rows_of

HEAD = "maneuver_id | cohort | device_class | figure:text | student_id | time_s | is_settled\n"
CLASSES = "cohort | device_class\nc1 | simulator\nc2 | simulator"

Event = tuple[str, float, bool]


def events(rows: list[Event], cohort: str = "c1") -> str:
    return "\n".join(
        f"{cohort}-{i} | {cohort} | simulator | settled | {who} | {t} | {'yes' if done else 'no'}"
        for i, (who, t, done) in enumerate(rows)
    )


def curve(rows: list[Event]) -> list[dict[str, Any]]:
    text = HEAD + events(rows)
    return rows_of("settling_curves", followed_events=text, cohort_classes=CLASSES)


def test_the_curve_steps_where_events_settle_and_loses_those_no_longer_followed() -> None:
    rows = curve(
        [("A", 10, True), ("B", 10, True), ("A", 20, False), ("B", 30, True), ("A", 40, False)]
    )
    found = [(r["time_s"], r["at_risk"], r["settled"], r["censored"], r["survival"]) for r in rows]
    assert [f[:4] for f in found] == [
        (0, 5, 0, 0),
        (10, 5, 2, 0),
        (20, 3, 0, 1),
        (30, 2, 1, 0),
        (40, 1, 0, 1),
    ]
    assert [f[4] for f in found] == pytest.approx([1, 0.6, 0.6, 0.3, 0.3])


def test_the_interval_stays_within_0_and_1_and_holds_the_curve() -> None:
    for row in curve(
        [(s, t, True) for s in "ABCDE" for t in (5.0, 15.0, 25.0)] + [("A", 30, False)]
    ):
        if row["low"] is not None:
            assert 0 <= row["low"] < row["survival"] < row["high"] <= 1


def test_one_student_alone_has_a_curve_but_no_interval() -> None:
    rows = curve([("A", 10, True), ("A", 20, True), ("A", 30, False)])
    assert [r["low"] for r in rows] == [None] * 4
    assert rows[1]["survival"] == pytest.approx(2 / 3)


def test_repeating_every_students_events_makes_the_interval_no_narrower() -> None:
    """Ten copies of what a student did are no ten students."""
    base: list[Event] = [
        ("A", 10, True),
        ("B", 25, True),
        ("C", 30, False),
        ("D", 12, True),
        ("E", 40, True),
    ]
    once, often = curve(base), curve(base * 10)
    for one, many in zip(once, often, strict=True):
        assert many["survival"] == pytest.approx(one["survival"])
        assert many["cluster_se"] == pytest.approx(one["cluster_se"])
        assert one["time_s"] in (0, 40) or many["greenwood_se"] < 0.4 * one["greenwood_se"]


def test_with_one_event_each_the_cluster_error_is_greenwoods_up_to_g_over_g_minus_1() -> None:
    rng = np.random.default_rng(3)
    rows = curve(
        [
            (f"S{i}", float(t), bool(rng.random() < 0.7))
            for i, t in enumerate(rng.permutation(30) + 1)
        ]
    )
    for row in rows[1:-1]:
        assert row["cluster_se"] == pytest.approx(row["greenwood_se"] * np.sqrt(30 / 29))


def test_the_other_device_class_is_not_pooled() -> None:
    text = HEAD + events([("A", 10, True)]) + "\nx | c1 | aeroplane | settled | A | 99 | yes"
    rows = rows_of("settling_curves", followed_events=text, cohort_classes=CLASSES)
    assert [r["time_s"] for r in rows] == [0, 10]


def test_no_events_give_no_rows() -> None:
    assert rows_of("settling_curves", followed_events=HEAD, cohort_classes=CLASSES) == []


def medians(rows: list[Event]) -> dict[str, Any]:
    text = HEAD + events(rows)
    (row,) = rows_of("settling_medians", followed_events=text, cohort_classes=CLASSES)
    return row


def test_the_median_is_where_the_curve_reaches_one_half() -> None:
    row = medians([("A", 10, True), ("B", 20, True), ("C", 30, True), ("D", 40, True)])
    assert (row["median_s"], row["event_count"], row["student_count"], row["settled"]) == (
        20,
        4,
        4,
        4,
    )


def test_where_half_never_settled_there_is_no_median() -> None:
    row = medians([("A", 10, True), ("B", 90, False), ("C", 90, False), ("D", 90, False)])
    assert (row["median_s"], row["median_high_s"]) == (None, None)
    assert row["restricted_mean_s"] == pytest.approx(10 + 0.75 * 80)


def difference(first: list[Event], other: list[Event]) -> dict[str, Any]:
    text = HEAD + events(first) + "\n" + events(other, "c2")
    (row,) = rows_of("settling_differences", followed_events=text, cohort_classes=CLASSES)
    return row


def test_the_later_cohort_has_the_positive_sign() -> None:
    soon: list[Event] = [(f"S{i}", 10.0 + i, True) for i in range(8)]
    late: list[Event] = [(f"L{i}", 40.0 + i, True) for i in range(8)]
    assert difference(late, soon)["z"] > 2
    assert difference(soon, late)["z"] == pytest.approx(-difference(late, soon)["z"])
    assert difference(soon, late)["p"] < 0.05


def test_copies_of_a_students_events_do_not_make_a_difference_surer() -> None:
    soon: list[Event] = [(f"S{i}", 10.0 + 3 * i, True) for i in range(6)]
    late: list[Event] = [(f"L{i}", 15.0 + 4 * i, True) for i in range(6)]
    once, often = difference(soon, late), difference(soon * 5, late * 5)
    assert often["log_rank_chi2"] > 4 * once["log_rank_chi2"]
    assert often["z"] == pytest.approx(once["z"], rel=0.05)
