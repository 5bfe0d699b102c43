"""Figures that must agree with each other do, whatever was flown."""

from itertools import pairwise

from hypothesis import given, settings

from tests.flights import Log, connection_over, rows_by, stored_tables
from tests.generated_flights import SHORT_LIMITS, USUAL, School, logs, own_limits, schools
from tests.signals import NOTHING_FOUND

FEW = settings(USUAL, max_examples=4)
ROUNDING = 2e-6


@FEW
@given(schools(most=2))
def test_moments_and_extremes_are_in_order(school: School) -> None:
    """|bias| <= mae <= rmse <= max; spread <= rmse; rmse squared = bias squared + spread squared."""
    con = connection_over(
        school.tables(), ["altitude_hold", "heading_hold", "airspeed_hold"], own_limits=own_limits()
    )
    for channel, unit, bin_width in (
        ("altitude", "ft", 0.25),
        ("heading", "deg", 0.05),
        ("airspeed", "kt", 0.05),
    ):
        for row in rows_by(con, f"{channel}_hold", "maneuver_id").values():
            names = ("bias", "sd", "rmse", "mae", "max", "hold95")
            figures = [row[f"{channel}_{n}_{unit}"] for n in names]
            if None in figures:
                assert figures[0] is None
                assert row[f"{channel}_hold_reason"] is not None
                continue
            bias, sd, rmse, mae, largest, hold95 = figures
            assert abs(bias) <= mae + ROUNDING
            assert max(mae, sd) <= rmse + ROUNDING
            assert rmse <= largest + ROUNDING
            assert abs(rmse**2 - bias**2 - sd**2) <= 1e-7 * max(1, rmse**2)
            assert hold95 <= largest + bin_width
            assert 0.05 * hold95**2 <= rmse**2 + bin_width * (1 + hold95)  # Chebyshev


@FEW
@given(schools(most=2))
def test_a_wider_band_is_never_left_for_longer(school: School) -> None:
    con = connection_over(school.tables(), ["excursions", "standards"], own_limits=own_limits())
    tolerances = {
        (r["standard_id"], r["channel"]): r["tolerance"]
        for r in con.sql("FROM standards").to_arrow_table().to_pylist()
    }
    by_channel: dict[tuple[str, str], list[tuple[float, dict[str, float]]]] = {}
    for (maneuver, standard, channel), row in rows_by(
        con, "excursions", "maneuver_id", "standard_id", "channel"
    ).items():
        assert (row["excursions_reason"] is None) == (row["in_tolerance"] is not None)
        if row["in_tolerance"] is not None:
            place = by_channel.setdefault((maneuver, channel), [])
            place.append((tolerances[standard, channel], row))
    for bands in by_channel.values():
        for (_, narrow), (_, wide) in pairwise(sorted(bands, key=lambda b: b[0])):
            assert wide["in_tolerance"] >= narrow["in_tolerance"]
            assert wide["out_s"] <= narrow["out_s"]
            assert wide["longest_out_s"] <= narrow["longest_out_s"]
            if narrow["time_to_exceed_s"] is not None:
                assert wide["time_to_exceed_s"] >= narrow["time_to_exceed_s"] - ROUNDING
        for _, row in bands:
            assert row["excursions_2s"] <= row["excursions"]
            assert row["longest_out_s"] <= row["out_s"] + ROUNDING


def settled_after(log: Log, **limits: float) -> dict[str, tuple[float | None, float | None]]:
    """When each event was settled and set, with some limits changed."""
    con = connection_over(
        stored_tables([log]),
        ["trim_settling"],
        own_limits=own_limits({**SHORT_LIMITS, **limits}),
        inferred_maneuvers=NOTHING_FOUND,
    )
    return {
        row["maneuver_id"]: (row["trim_settle_s"], row["trim_set_s"])
        for row in rows_by(con, "trim_settling", "maneuver_id").values()
    }


def is_no_later(first: float | None, second: float | None) -> bool:
    """Whether the first came at once or before the second (None: never)."""
    return second is None or (first is not None and first <= second)


@FEW
@given(logs())
def test_settling_comes_no_later_in_wider_limits_and_no_sooner_for_a_longer_hold(log: Log) -> None:
    usual = settled_after(log)
    wider = settled_after(log, settle_altitude_ft=150, settle_vertical_speed_fpm=150)
    longer = settled_after(log, settle_hold_s=9, set_hold_s=9)
    assert usual.keys() == wider.keys() == longer.keys()
    for event, (settled, was_set) in usual.items():
        assert is_no_later(wider[event][0], settled)
        assert is_no_later(wider[event][1], was_set)
        assert is_no_later(settled, longer[event][0])
