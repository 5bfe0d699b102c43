"""exceed_times: how soon a band would be left at the rate of the last five seconds."""

import pytest

from tests.tables import rows_of

HEAD = "maneuver_no | second_no | altitude_error_ft | heading_error_deg | airspeed_kt"
EDGES = "channel:text | edge\naltitude | 100\naltitude | -100"
NUMBERS = "maneuver_no | maneuver_id | session_id | revision | gap_limit_ms\n1 | M1 | S1 | 1 | "
NO_SLOW = "session_id | revision | channel | gap_limit_ms"
SUMS = "maneuver_id | channel:text | reference\nM1 | altitude | 0"


def seconds_to_exceed(
    errors: dict[int, float], gap_ms: int = 1500, slow: str = NO_SLOW, **inputs: str
) -> float | None:
    lines = [f"1 | {s} | {e} | - | -" for s, e in errors.items()]
    rows = rows_of(
        "exceed_times",
        **{
            "second_means": "\n".join([HEAD, *lines]),
            "channel_sums": SUMS,
            "maneuver_numbers": f"{NUMBERS}{gap_ms}",
            "slow_channels": slow,
            "band_edges": EDGES,
            **inputs,
        },
    )
    return rows[0]["time_to_exceed_s"] if rows else None


@pytest.mark.parametrize(
    ("five_seconds_ago", "now", "expected"),
    [
        (0, 50, 5),  # 10 ft/s: 50 ft more
        (50, 0, 10),  # falling: 100 ft to the lower edge
        (40, 40, 60),  # at rest: the cap
        (39, 40, 60),  # 300 s, capped
        (0, 101, 0),  # outside
        (0, 100, 0),  # on the edge and going out
        (110, 100, 60),  # on the edge and coming in: 200 ft at 2 ft/s, capped
        (-110, -105, 0),
    ],
)
def test_the_rate_is_extrapolated_in_a_straight_line(
    five_seconds_ago: float, now: float, expected: float
) -> None:
    assert seconds_to_exceed({0: five_seconds_ago, 5: now}) == pytest.approx(expected)


def test_the_figure_is_the_mean_over_the_seconds_that_have_a_rate() -> None:
    assert seconds_to_exceed({0: 0, 1: 0, 5: 50, 6: 200}) == pytest.approx(2.5)


def test_where_the_second_is_missing_the_last_before_it_counts_within_the_gap_limit() -> None:
    assert seconds_to_exceed({0: 0, 6: 60}) == pytest.approx(4)  # 10 ft/s over 6 s
    assert seconds_to_exceed({0: 0, 7: 60}) is None
    assert seconds_to_exceed({0: 0, 7: 70}, gap_ms=2500) == pytest.approx(3)
    slow = f"{NO_SLOW}\nS1 | 1 | altitude | 5000"
    assert seconds_to_exceed({0: 0, 8: 80}, slow=slow) == pytest.approx(2)


def test_too_short_a_maneuver_has_no_row() -> None:
    assert seconds_to_exceed({0: 0, 4: 50}) is None
    assert seconds_to_exceed({}) is None


def test_an_airspeed_is_taken_about_its_median() -> None:
    found = seconds_to_exceed(
        {},
        second_means=f"{HEAD}\n1 | 0 | - | - | 100\n1 | 5 | - | - | 105",
        channel_sums="maneuver_id | channel:text | reference\nM1 | airspeed | 100",
        band_edges="channel:text | edge\nairspeed | 10\nairspeed | -10",
    )
    assert found == pytest.approx(5)
