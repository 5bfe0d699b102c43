"""band_edges: once and twice every tolerance, above and below."""

from tests.expected import assert_relation


def test_each_width_has_an_edge_above_and_below_and_equal_widths_are_one() -> None:
    assert_relation(
        "band_edges",
        """channel:text   | edge
           altitude       | 100
           altitude       | -100
           altitude       | 200
           altitude       | -200
           altitude       | 400
           altitude       | -400
           heading        | 10
           heading        | -10
           heading        | 20
           heading        | -20
           vertical_speed | 100
           vertical_speed | -100""",
        standards="""standard_id | channel:text | tolerance
                     strict      | altitude     | 100
                     mild        | altitude     | 200
                     strict      | heading      | 10
                     vague       | heading      | -""",
    )


def test_without_standards_only_the_vertical_speed_has_a_band() -> None:
    assert_relation(
        "band_edges",
        "channel:text | edge\nvertical_speed | 150\nvertical_speed | -150",
        standards="standard_id | channel:text | tolerance",
        own_limits="name | value\nnear_zero_vertical_speed_fpm | 150",
    )
