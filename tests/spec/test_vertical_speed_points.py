"""vertical_speed_points: logged, or the slope of the altitude where none was."""

import pytest

from tests.expected import stored
from tests.tables import rows_of

NO_SLOW = "session_id | revision | channel | gap_limit_ms"
NO_STEPS = "session_id | revision | altitude_step_ft"


def speeds(
    samples: str, step_ft: str = "1", slow: str = NO_SLOW, limit_s: float = 1.5
) -> list[tuple[int, float, int | None, int | None]]:
    rows = rows_of(
        "vertical_speed_points",
        stored_samples=stored("samples", samples),
        stored_sessions=stored("sessions", f"gap_limit_s\n{limit_s}"),
        altitude_steps=f"{NO_STEPS}\nS1 | 1 | {step_ft}" if step_ft else NO_STEPS,
        slow_channels=slow,
    )
    return [(r["t_ms"], r["value"], r["previous_ms"], r["next_ms"]) for r in rows]


def test_what_was_logged_is_taken_as_it_is() -> None:
    logged = "t_ms | altitude_ft | vertical_speed_fpm\n0 | 4000 | 100\n1000 | 4001 | -\n2000 | 4002 | -50"
    assert speeds(logged, step_ft="") == [(0, 100, None, 2000), (2000, -50, 0, None)]


def test_a_steady_climb_is_its_slope_everywhere() -> None:
    climb = "t_ms | altitude_ft\n" + "\n".join(f"{1000 * i} | {4000 + 5 * i}" for i in range(8))
    found = speeds(climb)
    assert [v for _, v, _, _ in found] == pytest.approx([300] * 8)
    assert [(p, n) for _, _, p, n in found][:2] == [(None, 1000), (0, 2000)]


def test_the_slope_is_taken_over_five_seconds_about_the_moment() -> None:
    hump = "t_ms | altitude_ft\n" + "\n".join(
        f"{1000 * i} | {h}" for i, h in enumerate([0, 0, 0, 10, 0, 0, 0])
    )
    # about 4 s: times -2 .. 2, heights 0 10 0 0 0: slope = -1 x 10 / 10 = -1 ft/s
    assert {t: v for t, v, _, _ in speeds(hump)}[4000] == pytest.approx(-60)
    assert {t: v for t, v, _, _ in speeds(hump)}[3000] == pytest.approx(0)


def test_no_slope_reaches_across_a_gap() -> None:
    step = "t_ms | altitude_ft\n0 | 0\n1000 | 0\n2600 | 100\n3600 | 100"
    assert [v for _, v, _, _ in speeds(step)] == pytest.approx([0, 0, 0, 0])
    joined = speeds(step, slow=f"{NO_SLOW}\nS1 | 1 | altitude | 1600")
    assert [v > 0 for _, v, _, _ in joined] == [False, True, True, False]


@pytest.mark.parametrize(("step_ft", "count"), [("24.9", 4), ("25", 0), ("100", 0), ("-", 4)])
def test_from_25_ft_steps_there_is_none(step_ft: str, count: int) -> None:
    flat = "t_ms | altitude_ft\n" + "\n".join(f"{1000 * i} | 4000" for i in range(4))
    assert len(speeds(flat, step_ft=step_ft)) == count


def test_a_lone_altitude_has_no_slope() -> None:
    assert speeds("t_ms | altitude_ft\n0 | 4000") == []
    assert speeds("t_ms | altitude_ft\n0 | 4000\n4000 | 4100", limit_s=10) == []
