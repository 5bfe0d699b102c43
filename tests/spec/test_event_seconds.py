"""event_seconds: the seconds of an event, and of the time before and after it."""

from itertools import pairwise

from tests.logs import log_inputs, ramp, samples, shifted, window, windows
from tests.tables import rows_of

LOG = samples(
    300, 4, altitude_ft=ramp((0, 3000), (300, 3300)), heading_deg=lambda t: (340 + t) % 360
)


def seconds(*rows: dict[str, object]) -> dict[str, list[int]]:
    found = rows_of("event_seconds", **{**log_inputs(LOG), "maneuver_windows": windows(*rows)})
    spans: dict[str, list[int]] = {}
    for row in found:
        spans.setdefault(row["maneuver_id"], []).append(row["second_no"])
    return spans


def test_a_turn_is_followed_beyond_its_end_and_a_level_off_from_before_its_start() -> None:
    found = seconds(
        window("turn", 50, 70, maneuver_id="t"), window("level_off", 100, 160, maneuver_id="l")
    )
    assert (found["t"][0], found["t"][-1]) == (50, 80)
    assert (found["l"][0], found["l"][-1]) == (85, 160)


def test_a_turn_is_followed_no_further_than_the_next_one() -> None:
    found = seconds(
        window("turn", 50, 70, maneuver_id="t"), window("turn", 74, 90, maneuver_id="u")
    )
    assert found["t"][-1] == 74


def test_level_flight_has_no_event() -> None:
    assert seconds(window("level", 0, 200)) == {}


def test_headings_go_on_across_north_and_altitudes_are_means() -> None:
    rows = rows_of(
        "event_seconds", **{**log_inputs(LOG), "maneuver_windows": windows(window("climb", 10, 40))}
    )
    headings = [r["heading_deg"] for r in rows]
    assert all(0.9 < b - a < 1.1 for a, b in pairwise(headings[:-1]))
    assert rows[0]["altitude_ft"] == 3010.375


def test_seconds_before_the_sessions_start_are_counted_backwards() -> None:
    early = log_inputs(shifted(LOG, -200_000))
    given = {**early, "maneuver_windows": windows(window("climb", -2, 1))}
    found = [(r["second_no"], r["altitude_ft"]) for r in rows_of("event_seconds", **given)]
    assert found == [(-2, 3198.375), (-1, 3199.375), (0, 3200.375), (1, 3201)]
