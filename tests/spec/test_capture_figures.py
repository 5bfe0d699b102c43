"""capture_figures: captures and what was censored."""

from tests.logs import NO_LIMITS
from tests.tables import rows_of

MANEUVERS = """
    maneuver_id | kind      | start_s | end_s | target_altitude_ft
    caught      | level_off | 100     | 220   | 3000
    open        | level_off | 100     | 220   | 3000
    climb       | climb     | 100     | 160   | 3000
    aimless     | descent   | 100     | 160   | -
    speedless   | level_off | 100     | 220   | 3000
    unseen      | climb     | 100     | 160   | 3000
    level       | level     | 100     | 160   | 3000"""
READINGS = """
    maneuver_id | entry_rate_fpm | lead_ft | overshoot_ft | capture_s | has_error
    caught      | -500           | 50      | 20           | 12        | yes
    open        | 500            | -40     | 300          | -         | yes
    climb       | 600            | -       | 0            | 44        | yes
    aimless     | -500           | -       | -            | -         | no
    speedless   | -              | -       | -            | -         | yes"""


def test_a_capture_not_reached_is_censored_and_the_lead_is_a_share_of_the_rate() -> None:
    rows = rows_of(
        "capture_figures", maneuvers=MANEUVERS, capture_readings=READINGS, own_limits=NO_LIMITS
    )
    found = {
        r["maneuver_id"]: (r["lead_share"], r["is_captured"], r["followed_s"], r["capture_reason"])
        for r in rows
    }
    assert found == {
        "caught": (0.1, True, 110, None),
        "open": (-0.08, False, 110, None),
        "climb": (None, True, 60, None),
        "aimless": (None, None, None, "no target altitude"),
        "speedless": (
            *(None, None, None),
            "vertical speed not logged, altitude too coarse to derive it",
        ),
        "unseen": (None, None, None, "no altitude observed"),
    }
