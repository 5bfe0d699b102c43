"""heading_points: headings unwrapped along time."""

import pytest

from tests.expected import stored
from tests.tables import rows_of


def points(text: str) -> list[tuple[float, float | None]]:
    """Value and previous value of each point, less whole turns so that the first is as logged."""
    rows = rows_of("heading_points", stored_samples=stored("samples", text))
    return [
        (r["value"], r["previous_value"] if r["previous_ms"] is not None else None) for r in rows
    ]


@pytest.mark.parametrize(
    ("logged", "unwrapped"),
    [
        ([350, 10], [350, 370]),
        ([10, 350], [10, -10]),
        ([359, 0, 1, 359], [359, 360, 361, 359]),
        ([0, 180], [0, 180]),  # half a turn counts as to the right
        ([180, 0], [180, 360]),
        ([0, 179, 358, 177], [0, 179, 358, 537]),
        ([90], [90]),
    ],
)
def test_between_neighbours_the_short_way_round_is_taken(
    logged: list[float], unwrapped: list[float]
) -> None:
    lines = "\n".join(f"{1000 * i} | {h}" for i, h in enumerate(logged))
    assert [v for v, _ in points(f"t_ms | heading_deg\n{lines}")] == unwrapped


def test_the_previous_value_is_just_what_the_point_before_has() -> None:
    found = points("t_ms | heading_deg\n0 | 350\n1000 | 10.1\n2000 | -\n3000 | 349.9")
    assert [p for _, p in found] == [None, found[0][0], found[1][0]]


def test_a_session_or_revision_begins_without_a_neighbour() -> None:
    text = """session_id | revision | t_ms | heading_deg
              S1         | 1        | 0    | 350
              S1         | 2        | 0    | 10
              S2         | 1        | 0    | 200"""
    found = points(text)
    assert [p for _, p in found] == [None, None, None]
    assert [v % 360 for v, _ in found] == [350, 10, 200]
