"""channel_bins: time and moments in narrow bands of a channel's values."""

# ruff: noqa: E501 (tables in text are wide)

from tests.expected import assert_relation
from tests.tables import rows_of

HEAD = "maneuver_id | channel:text | value | since_start_s | weight_s"


def test_values_go_to_the_nearest_bin_and_leave_their_moments_about_its_middle() -> None:
    assert_relation(
        "channel_bins",
        """maneuver_id | channel  | bin_width | bin_no | sample_count | low   | high  | weight_s | sum_offset | sum_offset_squared | sum_offset_absolute | sum_time | sum_time_squared | sum_time_offset
           M1          | altitude | 0.25      | 40     | 2            | 9.9   | 10.1  | 3        | 0.1        | 0.03               | 0.3                 | 4        | 8                | 0.4
           M1          | altitude | 0.25      | -4     | 1            | -1    | -1    | 1        | 0          | 0                  | 0                   | 5        | 25               | 0""",
        observations=f"""{HEAD}
                         M1 | altitude | 9.9  | 0 | 1
                         M1 | altitude | 10.1 | 2 | 2
                         M1 | altitude | -1   | 5 | 1""",
    )


def test_halfway_between_two_bins_goes_away_from_zero() -> None:
    rows = rows_of(
        "channel_bins",
        observations=f"{HEAD}\nM1 | altitude | 0.125 | 0 | 1\nM1 | altitude | -0.125 | 1 | 1",
    )
    assert sorted(r["bin_no"] for r in rows) == [-1, 1]


def test_each_channel_has_its_own_width_and_an_unknown_one_no_bins() -> None:
    rows = rows_of(
        "channel_bins",
        observations=f"""{HEAD}
                         M1 | heading        | 1   | 0 | 1
                         M1 | airspeed       | 100 | 0 | 1
                         M1 | vertical_speed | 300 | 0 | 1
                         M1 | moon_phase     | 1   | 0 | 1""",
    )
    assert sorted((r["channel"], r["bin_width"], r["bin_no"]) for r in rows) == [
        ("airspeed", 0.05, 2000),
        ("heading", 0.05, 20),
        ("vertical_speed", 128, 2),
    ]


def test_a_bin_width_of_the_schools_own_is_used() -> None:
    [row] = rows_of(
        "channel_bins",
        observations=f"{HEAD}\nM1 | altitude | 10 | 0 | 1",
        own_limits="name | value\naltitude_bin_ft | 5",
    )
    assert (row["bin_width"], row["bin_no"]) == (5, 2)


def test_no_observations_no_bins() -> None:
    assert rows_of("channel_bins", observations=HEAD) == []
