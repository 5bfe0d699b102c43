"""device_effects: devices on which the same students' figures are wider, told apart from students."""

# ruff: noqa: E501 (tables in text are wide)

import pytest

from tests.tables import rows_of

HEAD = "session_id | student_id | cohort | aspect | stratum | device_class | session_date | device_id | maneuver_count | ln_ratio | neutral_variance | is_counted\n"
NOISE = """cohort | aspect   | stratum | session_date | within_variance | between_variance
           c1     | altitude | sim     | 2026-03-01   | 0               | 0.08
           c1     | altitude | sim     | 2026-03-02   | 0               | 0.08"""


def figures(*rows: tuple[str, str, str, float]) -> str:
    return HEAD + "\n".join(
        f"{who}-{device}-{day} | {who} | c1 | altitude | sim | simulator | 2026-03-{day} | {device} | 4 | {x} | 0 | yes"
        for who, device, day, x in rows
    )


def effects(content: str) -> dict[tuple[str, str], float]:
    found = rows_of("device_effects", session_figures=content, pooled_noise=NOISE)
    return {(str(r["session_date"]), r["device_id"]): r["effect_ln"] for r in found}


def test_a_wide_device_is_told_apart_from_its_flyers_and_shrunk() -> None:
    found = effects(
        figures(
            ("A", "D1", "01", 0.0),
            ("A", "D2", "01", 0.8),
            ("B", "D1", "01", 1.0),
            ("B", "D2", "01", 1.8),
        )
    )
    # Residuals from each student's mean are -0.4 and +0.4; two sessions and 0.08 / 0.2^2 = 2 more of nothing.
    # In a balanced design the means do not move, so that further rounds change nothing.
    assert found["2026-03-01", "D1"] == pytest.approx(-0.8 / 4)
    assert found["2026-03-01", "D2"] == pytest.approx(0.8 / 4)


def test_students_who_flew_one_device_only_say_nothing() -> None:
    content = figures(
        ("A", "D1", "01", 0.0),
        ("A", "D1", "02", 0.2),
        ("B", "D2", "01", 2.0),
        ("B", "D2", "02", 2.2),
    )
    rows = rows_of("device_effects", session_figures=content, pooled_noise=NOISE)
    assert [r["effect_ln"] for r in rows] == pytest.approx([0.0] * len(rows))
    assert {r["linking_students"] for r in rows} == {0}


def test_only_what_is_dated_up_to_the_date_counts() -> None:
    early = figures(("A", "D1", "01", 0.0), ("A", "D2", "01", 0.4))
    late = early + "\n" + figures(("A", "D2", "02", 3.0)).removeprefix(HEAD)
    assert effects(late)["2026-03-01", "D2"] == effects(early)["2026-03-01", "D2"]
    assert effects(late)["2026-03-02", "D2"] > effects(late)["2026-03-01", "D2"]


def test_effects_are_centred_over_the_devices_of_a_class() -> None:
    content = figures(
        ("A", "D1", "01", 0.0), ("A", "D2", "01", 0.5), ("B", "D2", "01", 1.0), ("B", "D3", "01", 1.1), ("A", "D3", "02", 0.3)
    )  # fmt: skip
    found = effects(content)
    assert sum(v for (day, _), v in found.items() if day == "2026-03-02") == pytest.approx(0)
