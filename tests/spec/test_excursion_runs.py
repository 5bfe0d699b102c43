"""excursion_runs: the stretches beyond each edge of a band."""

from typing import Any

import pytest

from tests.expected import assert_relation
from tests.placed import NONE_PATCHY, NUMBERS, in_steps, patchy, placed
from tests.tables import build_over, rows_of

EDGES = "channel:text | edge\naltitude | 100\naltitude | -100"
SUMS = "maneuver_id | channel:text | reference\nM1 | altitude | 0"
NO_BANDS = "maneuver_no | median_kt"
RUNS = "edge | run_no | start_s | end_s | is_start_cut | is_end_cut"


def inputs(*stretches: str, column: str = "altitude_error_ft") -> dict[str, Any]:
    """What excursions are read from, with points `t value` of known stretches, parted by gaps."""
    return {
        "placed_samples": placed(in_steps(column, *stretches)),
        "patchy_channels": NONE_PATCHY,
        "patchy_observations": patchy(),
        "airspeed_bands": NO_BANDS,
        "channel_sums": SUMS,
        "maneuver_numbers": NUMBERS,
        "band_edges": EDGES,
    }


@pytest.mark.parametrize(
    ("stretches", "runs"),
    [
        (["0 0, 1 100, 2 0"], ""),  # on the edge is inside
        (["0 0, 1 200, 2 0"], "100 | 1 | 0.5 | 1.5 | no | no"),
        (["0 0, 4 -200, 8 -50"], "-100 | 1 | 2 | 6.66666667 | no | no"),
        (["0 150, 1 50"], "100 | 1 | 0 | 0.5 | yes | no"),  # starts outside: counts once
        (["0 50, 1 150"], "100 | 1 | 0.5 | 1 | no | yes"),
        (["0 150, 1 150"], "100 | 1 | 0 | 1 | yes | yes"),
        (["0 150"], "100 | 1 | 0 | 0 | yes | yes"),  # a lone sample has no length
        (
            ["0 150, 1 150", "5 150, 6 50"],  # a gap ends an excursion
            "100 | 1 | 0 | 1 | yes | yes\n100 | 2 | 5 | 5.5 | yes | no",
        ),
        (
            ["0 150, 1 -150, 2 -150"],  # through the whole band in one step
            "100 | 1 | 0 | 0.16666667 | yes | no\n-100 | 1 | 0.83333333 | 2 | no | yes",
        ),
        (
            ["0 200, 1 100, 2 200"],  # touching the edge comes in for a moment
            "100 | 1 | 0 | 1 | yes | no\n100 | 2 | 1 | 2 | no | yes",
        ),
        (["0 0, 1 0"], ""),
    ],
)
def test_between_samples_the_signal_is_a_straight_line(stretches: list[str], runs: str) -> None:
    assert_relation("excursion_runs", f"{RUNS}\n{runs}".strip(), **inputs(*stretches))


def test_a_patchy_channel_is_read_from_its_own_observations() -> None:
    own = in_steps("value", "0 0, 1 200, 2 0", "9 150").splitlines()
    lines = [f"{own[0]} | channel:text", *(f"{line} | altitude" for line in own[1:])]
    found = rows_of(
        "excursion_runs",
        **{
            **inputs("0 0, 1 900, 2 0"),
            "patchy_channels": f"{NONE_PATCHY}\n1 | altitude",
            "patchy_observations": patchy("\n".join(lines)),
        },
    )
    assert [(r["start_s"], r["end_s"], r["is_start_cut"]) for r in found] == [
        (0.5, 1.5, False),
        (9, 9, True),
    ]


def test_airspeeds_are_taken_from_the_maneuvers_median() -> None:
    found = rows_of(
        "excursion_runs",
        **{
            **inputs("0 100, 1 120, 2 100", column="airspeed_kt"),
            "airspeed_bands": f"{NO_BANDS}\n1 | 100",
            "channel_sums": SUMS.replace("altitude | 0", "airspeed | 100"),
            "band_edges": "channel:text | edge\nairspeed | 10\nairspeed | -10",
        },
    )
    assert [(r["edge"], r["start_s"], r["end_s"]) for r in found] == [(10, 0.5, 1.5)]


def test_every_edge_that_is_crossed_has_its_own_runs() -> None:
    bands = inputs("0 0, 1 400, 2 0, 3 -400, 4 0, 5 150, 6 150")
    edges = EDGES + "\naltitude | 300\naltitude | -300"
    found = rows_of("excursion_runs", **{**bands, "band_edges": edges})
    assert [(r["edge"], r["start_s"], r["end_s"]) for r in found] == [
        (-300, 2.75, 3.25),
        (-100, 2.25, 3.75),
        (100, 0.25, 1.75),
        (100, pytest.approx(4 + 2 / 3), 6),
        (300, 0.75, 1.25),
    ]


def test_without_a_target_there_is_no_band_to_leave() -> None:
    numbers = NUMBERS.replace("| 4000 ", "| - ")
    found = rows_of("excursion_runs", **{**inputs("0 4000, 1 4000"), "maneuver_numbers": numbers})
    assert found == []


def test_without_observed_time_there_is_no_excursion() -> None:
    sums = SUMS.replace("altitude | 0", "altitude | -")
    assert rows_of("excursion_runs", **{**inputs("0 150"), "channel_sums": sums}) == []


def test_the_channels_that_are_read_are_those_with_edges() -> None:
    con = build_over(["band_edges"])
    channels = {name for (name,) in con.execute("SELECT channel FROM band_edges").fetchall()}
    assert channels == {"altitude", "heading", "airspeed", "vertical_speed"}
