"""pooled_noise: how much figures scatter within and between sessions, as of each date."""

# ruff: noqa: E501 (tables in text are wide)

import pytest

from tests.tables import rows_of

HEAD = "session_id | student_id | cohort | aspect | stratum | session_date | session_no | maneuver_count | ln_ratio | ln_squares | is_counted\n"


def test_defaults_are_mixed_with_what_was_seen_up_to_the_date() -> None:
    found = rows_of(
        "pooled_noise",
        session_figures=HEAD
        + """s1 | A | c1 | altitude | sim | 2026-03-01 | 1 | 2 | 0.0 | 0.02 | yes
             s2 | A | c1 | altitude | sim | 2026-03-02 | 2 | 2 | 0.3 | 0.04 | yes
             s3 | A | c1 | altitude | sim | 2026-03-03 | - | 2 | 9.0 | 9.00 | no""",
    )
    first, second = sorted(found, key=lambda r: r["session_date"])
    assert first["within_variance"] == pytest.approx((3.2 + 0.02) / 21)
    assert first["between_variance"] == pytest.approx(1.8 / 20)
    within = (3.2 + 0.06) / 22
    assert second["within_variance"] == pytest.approx(within)
    assert second["between_variance"] == pytest.approx(
        (1.8 + 0.3**2 / 2 - within * (0.5 + 0.5) / 2) / 21
    )
    assert (second["session_count"], second["difference_count"]) == (2, 1)


def test_learning_is_no_noise_however_long_it_goes_on() -> None:
    ramp = HEAD + "\n".join(
        f"s{i:02d} | A | c1 | altitude | sim | 2026-03-{i + 1:02d} | {i + 1} | 5 | {0.05 * i} | 0 | yes"
        for i in range(30)
    )
    last = max(rows_of("pooled_noise", session_figures=ramp), key=lambda r: r["session_date"])
    assert last["between_variance"] < 0.09


def test_identical_sessions_reach_the_floor() -> None:
    same = HEAD + "\n".join(
        f"s{i:03d}-{who} | {who} | c1 | altitude | sim | 2026-03-{i + 1:02d} | {i + 1} | 5 | 0 | 0 | yes"
        for i in range(28)
        for who in "ABCDE"
    )
    last = max(rows_of("pooled_noise", session_figures=same), key=lambda r: r["session_date"])
    assert last["between_variance"] == pytest.approx(0.0225)


def test_held_control_has_all_its_scatter_between_sessions() -> None:
    (row,) = rows_of(
        "pooled_noise",
        session_figures=HEAD + "s1 | A | c1 | trim | sim | 2026-03-01 | 1 | 4 | 0.5 | 0 | yes",
    )
    assert (row["within_variance"], row["between_variance"]) == (0, pytest.approx(0.2))


def test_students_days_and_strata_are_kept_apart() -> None:
    found = rows_of(
        "pooled_noise",
        session_figures=HEAD
        + """s1 | A | c1 | altitude | sim   | 2026-03-01 | 1 | 2 | 0.0 | 0 | yes
             s2 | B | c1 | altitude | sim   | 2026-03-02 | 1 | 2 | 5.0 | 0 | yes
             s3 | A | c1 | altitude | plane | 2026-03-02 | 1 | 2 | 5.0 | 0 | yes
             s4 | C | c2 | altitude | sim   | 2026-03-02 | 1 | 2 | 5.0 | 0 | yes""",
    )
    assert len(found) == 4
    assert {r["difference_count"] for r in found} == {0}
