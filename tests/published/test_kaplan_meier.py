"""Settling curves against the remission times of Freireich et al. 1963 (Blood 21:699-716).

The data are the 21 pairs as textbooks restate them (Klein and Moeschberger; Kleinbaum and Klein),
read in secondary sources and recomputed. The paper's own abstract quotes medians of 33 and 9 weeks
for another subset, complete remissions only: 23 and 8 are the textbooks' values for these rows.
"""

import math
from typing import Any

import duckdb
import numpy as np
import pytest
from lifelines import KaplanMeierFitter
from lifelines.statistics import logrank_test

from tests.tables import build_over, rows_of

TREATED = "6 6 6 6+ 7 9+ 10 10+ 11+ 13 16 17+ 19+ 20+ 22 23 25+ 32+ 32+ 34+ 35+"
PLACEBO = "1 1 2 2 3 4 4 5 5 8 8 8 8 11 11 12 12 15 17 22 23"
CLASSES = "cohort | device_class\n6-MP | simulator\nplacebo | simulator"


def events(cohort: str, times: str) -> str:
    """Every patient as a student with one event."""
    return "\n".join(
        f"{cohort}-{i} | {cohort} | simulator | settled | {cohort}-{i} | {t.rstrip('+')} "
        f"| {'no' if t.endswith('+') else 'yes'}"
        for i, t in enumerate(times.split())
    )


@pytest.fixture(scope="module")
def con() -> duckdb.DuckDBPyConnection:
    head = "maneuver_id | cohort | device_class | figure:text | student_id | time_s | is_settled"
    text = "\n".join([head, events("6-MP", TREATED), events("placebo", PLACEBO)])
    names = ["settling_curves", "settling_medians", "settling_differences"]
    return build_over(names, followed_events=text, cohort_classes=CLASSES)


def curve(con: duckdb.DuckDBPyConnection, cohort: str) -> dict[float, dict[str, Any]]:
    rows = con.sql("FROM settling_curves").pl().to_dicts()
    return {r["time_s"]: r for r in rows if r["cohort"] == cohort}


def median_row(con: duckdb.DuckDBPyConnection, cohort: str) -> dict[str, Any]:
    rows = con.sql("FROM settling_medians").pl().to_dicts()
    return next(r for r in rows if r["cohort"] == cohort)


def test_the_treated_arm_has_the_textbooks_numbers_at_risk_curve_and_errors(
    con: duckdb.DuckDBPyConnection,
) -> None:
    found = curve(con, "6-MP")
    times = [6, 7, 10, 13, 16, 22, 23]
    survival = [0.8571, 0.8067, 0.7529, 0.6902, 0.6275, 0.5378, 0.4482]
    greenwood = [0.0764, 0.0869, 0.0963, 0.1068, 0.1141, 0.1282, 0.1346]
    assert [found[t]["at_risk"] for t in times] == [21, 17, 15, 12, 11, 7, 6]
    assert [found[t]["survival"] for t in times] == pytest.approx(survival, abs=5e-5)
    assert [found[t]["greenwood_se"] for t in times] == pytest.approx(greenwood, abs=5e-5)


def test_the_placebo_arm_has_the_textbooks_curve(con: duckdb.DuckDBPyConnection) -> None:
    found = curve(con, "placebo")
    survival = {
        1: 0.9048, 2: 0.8095, 3: 0.7619, 4: 0.6667, 5: 0.5714, 8: 0.3810, 11: 0.2857, 12: 0.1905,
        15: 0.1429, 17: 0.0952, 22: 0.0476, 23: 0,
    }  # fmt: skip
    assert {t: found[t]["survival"] for t in survival} == pytest.approx(survival, abs=5e-5)


def test_the_medians_are_23_and_8_weeks(con: duckdb.DuckDBPyConnection) -> None:
    assert median_row(con, "6-MP")["median_s"] == 23
    assert median_row(con, "placebo")["median_s"] == 8


def test_dropping_or_not_marking_the_unfinished_misleads_by_a_factor_of_two(
    con: duckdb.DuckDBPyConnection,
) -> None:
    finished = [int(t) for t in TREATED.split() if not t.endswith("+")]
    everything = [int(t.rstrip("+")) for t in TREATED.split()]
    assert np.mean(finished) == pytest.approx(12.11, abs=0.005)
    assert np.mean(everything) == pytest.approx(17.10, abs=0.005)
    assert np.median(finished) == 10
    row = median_row(con, "6-MP")
    assert row["restricted_mean_s"] == pytest.approx(23.287, abs=5e-4)
    assert median_row(con, "placebo")["restricted_mean_s"] == pytest.approx(8.667, abs=5e-4)
    assert row["median_s"] > 2 * np.median(finished)


def test_the_log_rank_statistic_is_16_79(con: duckdb.DuckDBPyConnection) -> None:
    (row,) = con.sql("FROM settling_differences").pl().to_dicts()
    assert row["log_rank_chi2"] == pytest.approx(16.793, abs=5e-4)
    assert row["z"] > 3  # 6-MP first in order, and later
    assert row["p"] < 1e-3


def test_curves_medians_and_the_log_rank_equal_a_library_on_random_data() -> None:
    rng = np.random.default_rng(11)
    head = "maneuver_id | cohort | device_class | figure:text | student_id | time_s | is_settled"
    lines, data = [head], {}
    for cohort, scale in (("a", 30.0), ("b", 45.0)):
        times = np.round(rng.exponential(scale, 61) * 4) / 4 + 0.25
        ends = np.round(rng.uniform(20, 100, 61) * 4) / 4
        done, seconds = times <= ends, np.minimum(times, ends)
        data[cohort] = (seconds, done)
        lines += [
            f"{cohort}{i} | {cohort} | simulator | set | {cohort}{i} | {seconds[i]} "
            f"| {'yes' if done[i] else 'no'}"
            for i in range(61)
        ]
    classes = "cohort | device_class\na | simulator\nb | simulator"
    names = ["settling_curves", "settling_medians", "settling_differences"]
    con = build_over(names, followed_events="\n".join(lines), cohort_classes=classes)
    for cohort, (seconds, done) in data.items():
        fitted = KaplanMeierFitter().fit(seconds, done)
        for time, row in curve(con, cohort).items():
            assert row["survival"] == pytest.approx(float(fitted.predict(time)), abs=1e-9)
        assert median_row(con, cohort)["median_s"] == pytest.approx(fitted.median_survival_time_)
        bounds = fitted.confidence_interval_survival_function_
        for time, row in list(curve(con, cohort).items())[1:-1]:
            # One event each: the interval is the library's, widened by sqrt(61 / 60).
            low, high = bounds.loc[time]
            assert row["low"] <= low + 1e-9
            assert row["high"] >= high - 1e-9
            assert row["low"] == pytest.approx(low, abs=0.003)
    (row,) = con.sql("FROM settling_differences").pl().to_dicts()
    library = logrank_test(data["a"][0], data["b"][0], data["a"][1], data["b"][1])
    assert row["log_rank_chi2"] == pytest.approx(library.test_statistic)
    assert math.copysign(1, row["z"]) == -1  # a settles sooner


def test_intervals_that_take_students_for_clusters_cover_where_greenwoods_do_not() -> None:
    """Simulated: 12 students of 10 events, of whom some settle much later than others."""
    rng = np.random.default_rng(5)
    head = "maneuver_id | cohort | device_class | figure:text | student_id | time_s | is_settled"
    lines, cohorts = [head], 80
    for c in range(cohorts):
        own = np.exp(rng.normal(math.log(40), 0.7, 12))
        for s, e in np.ndindex(12, 10):
            time = own[s] * np.exp(rng.normal(0, 0.4))
            done = time <= 90
            lines.append(
                f"{c}-{s}-{e} | c{c} | simulator | set | {s} | {min(time, 90.0)} "
                f"| {'yes' if done else 'no'}"
            )
    classes = "cohort | device_class\n" + "\n".join(f"c{c} | simulator" for c in range(cohorts))
    rows = rows_of("settling_curves", followed_events="\n".join(lines), cohort_classes=classes)
    covered, greenwood = [], []
    for c in range(cohorts):
        before = [r for r in rows if r["cohort"] == f"c{c}" and r["time_s"] <= 40]
        row = max(before, key=lambda r: r["time_s"])
        covered.append(row["low"] <= 0.5 <= row["high"])
        greenwood.append(abs(row["survival"] - 0.5) <= 1.96 * row["greenwood_se"])
    assert np.mean(covered) >= 0.88
    assert np.mean(greenwood) <= 0.75
