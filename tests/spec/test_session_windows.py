"""session_windows: what a session sees when it looks back."""

# ruff: noqa: E501 (tables in text are wide)

import pytest

from tests.tables import rows_of

FIGURES = """
    session_id | student_id | cohort | aspect   | stratum | device_class | device_id | session_date | session_no | maneuver_count | ln_ratio | neutral_variance | is_counted
    s1         | A          | c1     | altitude | sim     | simulator    | D1        | 2026-03-01   | 1          | 4              | 0.1      | 0                | yes
    s2         | A          | c1     | altitude | sim     | simulator    | D2        | 2026-03-02   | 2          | 2              | 0.2      | 0.01             | yes
    s3         | A          | c1     | altitude | sim     | simulator    | D2        | 2026-03-03   | -          | 1              | 0.9      | 0                | no
    s4         | A          | c1     | altitude | plane   | aeroplane    | D9        | 2026-03-03   | 1          | 4              | 0.9      | 0                | yes
"""
NOISE = """
    cohort | aspect   | stratum | session_date | within_variance | between_variance
    c1     | altitude | sim     | 2026-03-01   | 0.16            | 0.09
    c1     | altitude | sim     | 2026-03-02   | 0.20            | 0.10
    c1     | altitude | plane   | 2026-03-03   | 0.16            | 0.09"""
EFFECTS = """
    aspect   | device_class | session_date | device_id | effect_ln
    altitude | simulator    | 2026-03-02   | D1        | -0.05
    altitude | simulator    | 2026-03-02   | D2        | 0.05"""


def test_a_session_sees_itself_and_earlier_ones_of_its_stratum_with_the_noise_of_its_own_date() -> (
    None
):
    rows = rows_of(
        "session_windows", session_figures=FIGURES, pooled_noise=NOISE, device_effects=EFFECTS
    )
    found = {
        (r["session_id"], r["is_adjusted"], r["ago"]): (r["figure"], r["variance"]) for r in rows
    }
    assert len(found) == 2 * (1 + 2 + 1)
    assert found["s2", False, 0] == pytest.approx((0.2, 0.10 + 0.20 / 2 + 0.01))
    assert found["s2", False, 1] == pytest.approx((0.1, 0.10 + 0.20 / 4))
    assert found["s2", True, 0][0] == pytest.approx(0.15)
    assert found["s2", True, 1][0] == pytest.approx(0.15)
    assert found["s1", True, 0] == pytest.approx((0.1, 0.09 + 0.16 / 4))
