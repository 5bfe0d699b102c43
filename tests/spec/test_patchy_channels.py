"""patchy_channels: where a channel's neighbours are not those of the samples around it."""

import pytest

from tests.placed import NUMBERS, placed
from tests.tables import rows_of

MANEUVER = NUMBERS.replace("maneuver_no |", "session_id | revision | maneuver_no |").replace(
    "    1  ", "    S1 | 1 | 1  "
)
NO_SLOW = "session_id | revision | channel:text"
NO_STEPS = "session_id | revision | altitude_step_ft"


def patchy(
    text: str, numbers: str = MANEUVER, slow: str = NO_SLOW, steps: str = NO_STEPS
) -> list[str]:
    """The patchy channels of the one maneuver."""
    rows = rows_of(
        "patchy_channels",
        placed_samples=placed(text),
        maneuver_numbers=numbers,
        slow_channels=slow,
        altitude_steps=steps,
    )
    assert {r["maneuver_no"] for r in rows} <= {1}
    return sorted(r["channel"] for r in rows)


def test_a_channel_is_patchy_with_blank_cells_not_with_none_or_nothing_else() -> None:
    text = """t_ms | altitude_error_ft | airspeed_kt | bank_deg | pitch_control
              0    | 10                | 100         | -        | -
              1000 | 10                | -           | 3        | -"""
    assert patchy(text) == ["airspeed", "bank"]


@pytest.mark.parametrize(
    ("previous", "target", "is_patchy"),
    [
        (180, "90", False),
        (180.5, "90", True),
        (-179.5, "90", False),
        (-180, "90", True),
        (0, "-", False),
        (-0.5, "-", True),
        (359.5, "-", False),
        (360, "-", True),
    ],
)
def test_a_heading_is_patchy_that_passes_half_a_turn_or_north_without_a_target(
    previous: float, target: str, is_patchy: bool
) -> None:
    text = f"""t_ms | heading_error_deg | previous_heading_error_deg
               0    | 0                 | -
               1000 | 0                 | {previous}"""
    assert patchy(text, MANEUVER.replace("| 90 ", f"| {target} ")) == ["heading"] * is_patchy


def test_a_slower_channel_is_patchy_though_every_cell_here_is_filled() -> None:
    slow = f"{NO_SLOW}\nS1 | 1 | roll_control\nS2 | 1 | altitude"
    assert patchy("t_ms | roll_control\n0 | 1", slow=slow) == ["roll_control"]


def test_a_vertical_speed_that_nobody_logged_is_patchy() -> None:
    assert patchy("t_ms | altitude_error_ft\n0 | 1", steps=f"{NO_STEPS}\nS1 | 1 | -") == [
        "vertical_speed"
    ]


def test_no_samples_nothing_patchy() -> None:
    assert patchy("") == []
