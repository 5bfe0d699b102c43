"""settings and limits: every limit with its reason, and the same side by side."""

import pytest

from tests.tables import build_over, rows_of


def test_every_setting_has_a_unit_and_a_reason() -> None:
    for row in rows_of("settings"):
        assert row["value"] is not None
        assert row["unit"]
        assert row["reason"]


def test_limits_has_every_setting_once_and_nothing_else() -> None:
    con = build_over(["limits", "settings"])
    [limits] = con.sql("FROM limits").pl().to_dicts()
    settings = {r["name"]: r["value"] for r in con.sql("FROM settings").pl().to_dicts()}
    assert limits == settings
    assert len(settings) == len(rows_of("settings"))


def test_a_schools_own_value_takes_the_place_of_the_default_which_the_reason_tells() -> None:
    own = "name | value\nuntrimmed_limit | 0.1"
    [row] = [r for r in rows_of("settings", own_limits=own) if r["name"] == "untrimmed_limit"]
    assert row["value"] == 0.1
    assert row["reason"] == "the school's own value; by default 0.05"
    [limits] = rows_of("limits", own_limits=own)
    assert limits["untrimmed_limit"] == 0.1
    assert limits["settle_control"] == 0.05


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("scored_minimum_s", 60),
        ("hold_share", 0.95),
        ("promptly_s", 21),
        ("settle_hold_s", 20),
        ("set_hold_s", 30),
        ("untrimmed_limit", 0.05),
        ("coarse_altitude_step_ft", 25),
        ("excursion_step_limit_s", 2),
    ],
)
def test_the_limits_that_the_metrics_name(name: str, value: float) -> None:
    [limits] = rows_of("limits")
    assert limits[name] == value
