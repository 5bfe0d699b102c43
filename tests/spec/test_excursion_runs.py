"""excursion_runs: the stretches beyond each edge of a band."""

import pytest

from tests.expected import assert_relation
from tests.tables import build_over, rows_of

HEAD = "maneuver_id | channel:text | t_s | value | previous_value | step_s | has_next"
EDGES = "channel:text | edge\naltitude | 100\naltitude | -100"
SUMS = "maneuver_id | channel:text | reference\nM1 | altitude | 0"
WINDOWS = "maneuver_id | target_altitude_ft | target_heading_deg\nM1 | 4000 | 90"
RUNS = "edge | run_no | start_s | end_s | is_start_cut | is_end_cut"


def observations(*stretches: str) -> str:
    """Points `t value` of known stretches, parted by gaps."""
    lines = [HEAD]
    for stretch in stretches:
        points = [tuple(float(x) for x in p.split()) for p in stretch.split(",")]
        for i, (t, value) in enumerate(points):
            before = f"{points[i - 1][1]} | {t - points[i - 1][0]}" if i else "- | -"
            has_next = "yes" if i + 1 < len(points) else "no"
            lines.append(f"M1 | altitude | {t} | {value} | {before} | {has_next}")
    return "\n".join(lines)


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
    assert_relation(
        "excursion_runs",
        f"{RUNS}\n{runs}".strip(),
        observations=observations(*stretches),
        channel_sums=SUMS,
        band_edges=EDGES,
        maneuver_windows=WINDOWS,
    )


def test_distances_are_taken_from_the_channels_reference() -> None:
    sums = SUMS.replace("| 0", "| 50")
    found = rows_of(
        "excursion_runs",
        observations=observations("0 100, 1 200, 2 100"),
        channel_sums=sums,
        band_edges=EDGES,
        maneuver_windows=WINDOWS,
    )
    assert [(r["start_s"], r["end_s"]) for r in found] == [(0.5, 1.5)]


def test_without_a_target_there_is_no_band_to_leave() -> None:
    found = rows_of(
        "excursion_runs",
        observations=observations("0 4000, 1 4000"),
        channel_sums=SUMS,
        band_edges=EDGES,
        maneuver_windows=WINDOWS.replace("4000", "-"),
    )
    assert found == []


def test_the_channels_that_are_read_are_those_with_edges() -> None:
    con = build_over(["band_edges"])
    channels = {name for (name,) in con.execute("SELECT channel FROM band_edges").fetchall()}
    assert channels == {"altitude", "heading", "airspeed", "vertical_speed"}
