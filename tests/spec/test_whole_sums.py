"""whole_sums, maneuver_centres: the sums over a maneuver's samples, channel by channel."""

import pytest

from tests.placed import NUMBERS, placed
from tests.tables import rows_of

CENTRES = """
    maneuver_no | middle_ms | altitude_error_ft | airspeed_kt | heading_error_deg | vertical_speed_fpm | bank_deg | pitch_control | roll_control | pitch_force
    1           | 1000      | 10                | -           | -                 | -                  | -        | -             | -            | -"""  # noqa: E501
SAMPLES = placed(
    """t_ms | step_ms | next_step_ms | altitude_error_ft
       0    | -       | 1000         | 8
       1000 | 1000    | 2000         | -14
       3000 | 2000    | -            | 11"""
)


def test_the_moments_are_taken_about_the_centre_and_the_middle() -> None:
    [row] = rows_of("whole_sums", placed_samples=SAMPLES, maneuver_centres=CENTRES)
    assert (row["sample_count"], row["weight_ms"]) == (3, 6000)
    assert (row["timed"], row["timed_squared"]) == (3000, 9000)
    assert row["altitude"] == {
        "centre": 10,
        "low": -14,
        "high": 11,
        "off": 1000 * -2 + 3000 * -24 + 2000 * 1,
        "off_squared": 1000 * 4 + 3000 * 576 + 2000,
        "off_timed": 1000 * 2 + 2000 * 2,
        "absolute": 1000 * 8 + 3000 * 14 + 2000 * 11,
    }
    assert set(row["airspeed"].values()) == {None}


def test_a_centre_is_near_the_mean_and_the_middle_halfway() -> None:
    means = """maneuver_no | altitude_error_ft | heading_error_deg | vertical_speed_fpm | airspeed_kt | bank_deg | pitch_control | roll_control | pitch_force
               1           | 10                | -                 | -                  | -           | -        | -             | -            | -
               1           | 20                | 4                 | -                  | -           | -        | -             | -            | -"""  # noqa: E501
    numbers = NUMBERS.replace("| 0  ", "| 2000  ")
    [row] = rows_of("maneuver_centres", second_means=means, maneuver_numbers=numbers)
    assert row["middle_ms"] == pytest.approx(6000)
    assert (row["altitude_error_ft"], row["heading_error_deg"], row["bank_deg"]) == (15, 4, None)
