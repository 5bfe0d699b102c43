"""session_figures: what each session says in each aspect, and what keeps it out of the history."""

# ruff: noqa: E501 (tables in text are wide)

import math
from typing import Any

import pytest

from tests.tables import rows_of

INPUTS = {
    "as_of": "as_of_date\n2026-03-31",
    "sessions": """
        session_id | student_id | cohort | session_date | started_at       | device_id | device_class | air
        s1         | A          | c1     | 2026-03-01   | 2026-03-01T09:00 | D1        | simulator    | smooth
        s2         | A          | c1     | 2026-03-02   | 2026-03-02T11:00 | D1        | simulator    | -
        s3         | A          | c1     | 2026-03-02   | 2026-03-02T09:00 | D1        | simulator    | light
        s4         | A          | c1     | 2026-03-04   | 2026-03-04T09:00 | D2        | aeroplane    | moderate
        s5         | A          | c1     | 2026-03-05   | 2026-03-05T09:00 | D2        | aeroplane    | smooth
        s6         | A          | c1     | 2026-03-06   | 2026-03-06T09:00 | D1        | simulator    | smooth
        s7         | A          | c1     | 2026-04-01   | 2026-04-01T09:00 | D1        | simulator    | smooth
        s8         | B          | -      | 2026-03-06   | 2026-03-06T09:00 | D1        | simulator    | smooth
        s9         | B          | -      | 2026-03-07   | 2026-03-07T09:00 | D1        | simulator    | smooth""",
    "session_air": """
        session_id | used_air | is_rougher
        s1         | smooth   | no
        s8         | rough    | yes""",
    "maneuvers": """
        session_id | kind  | not_scored_reason
        s1         | level | -
        s2         | level | -
        s3         | level | -
        s4         | level | -
        s5         | level | -
        s7         | level | -
        s8         | level | -
        s9         | level | too short""",
    "session_scores": """
        session_id | aspect   | standard_id | tolerance | unit      | basis    | maneuver_count | tolerance_ratio | is_consistent | score_reason
        s1         | altitude | own         | 200       | ft        | assigned | 2              | 1.0             | no            | -
        s1         | trim     | -           | 0.05      | of travel | assigned | 2              | 0.1             | yes           | -
        s2         | altitude | own         | 200       | ft        | assigned | 2              | 1.5             | no            | -
        s3         | altitude | own         | 200       | ft        | assigned | 2              | 0.5             | yes           | -
        s3         | trim     | -           | 0.05      | of travel | assigned | 2              | 2.0             | no            | -
        s4         | altitude | own         | 200       | ft        | assigned | 3              | 3.0             | no            | -
        s5         | altitude | own         | 200       | ft        | assigned | 1              | 0.9             | yes           | -
        s7         | altitude | own         | 200       | ft        | assigned | 2              | 0.9             | yes           | -""",
    "maneuver_scores": """
        maneuver_id | session_id | aspect   | tolerance_ratio | is_in_figure
        a           | s1         | altitude | 0.5             | yes
        b           | s1         | altitude | 2.0             | yes
        c           | s1         | altitude | 9.0             | no
        d           | s2         | altitude | 1.5             | yes
        e           | s2         | altitude | 1.5             | yes
        f           | s3         | altitude | 0.5             | yes
        g           | s3         | altitude | 0.5             | yes""",
    "device_neutrals": """
        device_id | session_date | neutral_se
        D1        | 2026-03-01   | 0.005
        D1        | 2026-03-02   | 0.006""",
}  # fmt: skip

Found = dict[tuple[str, str], dict[str, Any]]


@pytest.fixture(scope="module")
def found() -> Found:
    return {(r["session_id"], r["aspect"]): r for r in rows_of("session_figures", **INPUTS)}


def test_every_session_up_to_the_date_asked_for_has_a_row_per_aspect(found: Found) -> None:
    assert len(found) == 8 * 3
    assert ("s7", "altitude") not in found


def test_the_figure_is_the_mean_logarithm_with_its_squares(found: Found) -> None:
    row = found["s1", "altitude"]
    assert row["ln_ratio"] == pytest.approx(0)
    assert row["ln_squares"] == pytest.approx(2 * math.log(2) ** 2)
    assert found["s2", "altitude"]["ln_ratio"] == pytest.approx(math.log(1.5))


def test_trim_takes_the_logarithm_of_the_mean_with_a_floor_and_no_squares(found: Found) -> None:
    row = found["s1", "trim"]
    assert row["ln_ratio"] == pytest.approx(math.log(0.25))
    assert row["ln_squares"] == 0
    assert row["neutral_variance"] == pytest.approx((0.005 / 0.05 / 0.25) ** 2)


def test_sessions_are_numbered_by_time_within_a_stratum(found: Found) -> None:
    numbers = {s: found[s, "altitude"]["session_no"] for s in ("s1", "s3", "s2", "s5")}
    assert numbers == {"s1": 1, "s3": 2, "s2": 3, "s5": None}
    assert found["s1", "altitude"]["stratum"] == "simulator, own"
    assert found["s1", "trim"]["stratum"] == "simulator"


def test_what_does_not_count_says_why(found: Found) -> None:
    reasons = {key: row["figure_reason"] for key, row in found.items() if not row["is_counted"]}
    assert reasons["s4", "altitude"] == "rougher air (moderate)"
    assert reasons["s5", "altitude"] == "only 1 scored level maneuver, 2 are needed"
    assert reasons["s6", "altitude"] == "no level maneuver in the session"
    assert reasons["s8", "altitude"] == "rougher air (rough, as the log shows)"
    assert reasons["s9", "altitude"] == "too short"
    assert reasons["s3", "trim"] == "the neutral of device D1 is known only to ±0.0060"
    assert found["s1", "trim"]["is_counted"]


def test_no_trim_figure_is_null_not_the_floor(found: Found) -> None:
    assert found["s2", "trim"]["ln_ratio"] is None


def test_sessions_without_tasks_are_a_history_of_their_own() -> None:
    scores = INPUTS["session_scores"].replace(
        "s2         | altitude | own         | 200       | ft        | assigned",
        "s2         | altitude | own         | 200       | ft        | inferred",
    )
    rows = rows_of("session_figures", **{**INPUTS, "session_scores": scores})
    strata = {row["session_id"]: row["stratum"] for row in rows if row["aspect"] == "altitude"}
    assert strata["s1"] == "simulator, own"
    assert strata["s2"] == "simulator, own, found in the log"
