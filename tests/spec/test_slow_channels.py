"""slow_channels: what came so slowly that it needs a gap limit of its own."""

from tests.expected import assert_relation, stored
from tests.tables import rows_of


def samples(step_ms: int, every: int, count: int = 41) -> str:
    """Rows `step_ms` apart, an airspeed in one of every few, an altitude in all."""
    lines = [f"{i * step_ms} | 4000 | {100 if i % every == 0 else '-'}" for i in range(count)]
    return "\n".join(["t_ms | altitude_ft | airspeed_kt", *lines])


SESSION = """channels:text           | sparse_channels | gap_limit_s
             altitude_ft, airspeed_kt | airspeed_kt     | 1.5"""


def test_a_channel_every_two_seconds_gets_two_and_a_half_of_its_own_steps() -> None:
    assert_relation(
        "slow_channels",
        """session_id | revision | channel  | median_step_s | gap_limit_ms
           S1         | 1        | airspeed | 2             | 5000""",
        stored_samples=stored("samples", samples(250, 8)),
        stored_sessions=stored("sessions", SESSION.replace(":text", "")),
    )


def test_a_slower_channel_within_the_sessions_limit_needs_none() -> None:
    sessions = stored("sessions", SESSION.replace(":text", ""))
    quick = stored("samples", samples(250, 2))
    assert rows_of("slow_channels", stored_samples=quick, stored_sessions=sessions) == []
    just = stored("samples", samples(200, 3))  # 0.6 s: two and a half steps are 1.5 s
    assert rows_of("slow_channels", stored_samples=just, stored_sessions=sessions) == []


def test_only_channels_found_sparse_at_landing_are_looked_at() -> None:
    full = "channels    | sparse_channels | gap_limit_s\naltitude_ft | -               | 1.5"
    rows = rows_of(
        "slow_channels",
        stored_samples=stored("samples", samples(250, 8)),
        stored_sessions=stored("sessions", full),
    )
    assert rows == []


def test_derived_vertical_speed_is_as_slow_as_its_altitude() -> None:
    lines = "\n".join(f"{i * 500} | {4000 if i % 4 == 0 else '-'}" for i in range(20))
    assert_relation(
        "slow_channels",
        """channel        | median_step_s | gap_limit_ms
           altitude       | 2             | 5000
           vertical_speed | 2             | 5000""",
        stored_samples=stored("samples", f"t_ms | altitude_ft\n{lines}"),
        stored_sessions=stored(
            "sessions",
            "channels    | sparse_channels | gap_limit_s\naltitude_ft | altitude_ft     | 1.5",
        ),
    )


def test_a_single_value_tells_no_step() -> None:
    rows = rows_of(
        "slow_channels",
        stored_samples=stored("samples", samples(250, 100)),
        stored_sessions=stored("sessions", SESSION.replace(":text", "")),
    )
    assert rows == []
