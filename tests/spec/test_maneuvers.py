"""maneuvers: which maneuvers count, and whether each is scored."""

# ruff: noqa: E501 (tables in text are wide)

from typing import Any

import pytest

from tests.tables import rows_of

INPUTS = {
    "maneuver_windows": """
        maneuver_id | session_id | revision | kind  | basis    | start_s | end_s | start_ms | end_ms | target_altitude_ft | target_heading_deg | flown_by
        M1          | S1         | 1        | level | assigned | 10.1    | 70.1  | 10100    | 70100  | 4000               | 90                 | student""",
    "sessions": "session_id | revision\nS1 | 1",
    "channel_sums": "maneuver_id | channel:text | observed_s\nM1 | altitude | 48",
    "maneuver_states": "maneuver_id | is_autopilot_on | is_on_ground\nM1 | no | -",
    "session_gates": "session_id | gate:text | severity | channel:text",
    "reviews": "kind | maneuver_id | note | made_at | aspect",
}  # fmt: skip


def maneuver(**changed: str) -> dict[str, Any]:
    [row] = rows_of("maneuvers", **{**INPUTS, **changed})
    return row


def window(old: str, new: str) -> dict[str, str]:
    changed = INPUTS["maneuver_windows"].replace(old, new)
    assert changed != INPUTS["maneuver_windows"]
    return {"maneuver_windows": changed}


def test_sixty_seconds_of_level_flight_four_fifths_observed_are_scored() -> None:
    row = maneuver()
    assert (row["is_scored"], row["not_scored_reason"], row["observed_s"]) == (True, None, 48)


@pytest.mark.parametrize(
    ("changed", "reason"),
    [
        (window("level ", "turn  "), "only level maneuvers are scored"),
        (window("70100 ", "70099 "), "shorter than 60 s"),
        (window("student", "instructor"), "flown by the instructor"),
        ({"maneuver_states": INPUTS["maneuver_states"].replace("no", "yes")}, "autopilot engaged"),
        ({"maneuver_states": INPUTS["maneuver_states"].replace("no | -", "- | yes")}, "on the ground"),
        ({"channel_sums": INPUTS["channel_sums"].replace("48", "47.9")}, "observed for only 48 of 60 s"),
        ({"channel_sums": INPUTS["channel_sums"].replace("48", "-")}, "observed for only 0 of 60 s"),
        ({"channel_sums": INPUTS["channel_sums"].replace("altitude", "heading")}, "observed for only 0 of 60 s"),
        ({"session_gates": f"{INPUTS['session_gates']}\nS1 | jump | not_scored | -"}, "data check: jump"),
        ({"reviews": f"{INPUTS['reviews']}\nset-aside | M1 | traffic | 2026-03-15 | -"}, "set aside: traffic"),
        ({"reviews": f"{INPUTS['reviews']}\nset-aside | M1 | - | 2026-03-15 | -"}, "set aside: "),
    ],
)  # fmt: skip
def test_the_reason_says_what_is_against_it(changed: dict[str, str], reason: str) -> None:
    row = maneuver(**changed)
    assert (row["is_scored"], row["not_scored_reason"]) == (False, reason)


@pytest.mark.parametrize(
    "changed",
    [
        {"session_gates": f"{INPUTS['session_gates']}\nS1 | frozen | not_scored | altitude_ft"},
        {"session_gates": f"{INPUTS['session_gates']}\nS1 | frozen | not_scored | airspeed_kt"},
        {"session_gates": f"{INPUTS['session_gates']}\nS1 | jump | warning | -"},
        {"reviews": f"{INPUTS['reviews']}\nacknowledge | M1 | seen | 2026-03-15 | -"},
        {"reviews": f"{INPUTS['reviews']}\nset-aside | M1 | gust | 2026-03-15 | heading"},
        {"maneuver_states": "maneuver_id | is_autopilot_on | is_on_ground"},
    ],
)
def test_what_speaks_of_one_channel_or_is_no_reason_leaves_it_scored(
    changed: dict[str, str],
) -> None:
    assert maneuver(**changed)["is_scored"]


def test_of_two_notes_the_later_is_told() -> None:
    notes = f"{INPUTS['reviews']}\nset-aside | M1 | late | 2026-03-16 | -\nset-aside | M1 | early | 2026-03-15 | -"
    assert maneuver(reviews=notes)["not_scored_reason"] == "set aside: late"


def test_only_the_revision_that_counts_has_maneuvers() -> None:
    assert rows_of("maneuvers", **{**INPUTS, "sessions": "session_id | revision\nS1 | 2"}) == []


def test_the_limits_are_settings() -> None:
    own = "name | value\nscored_minimum_s | 30\nscored_observed_share | 0.5"
    short = window("70100 ", "40100 ")
    row = maneuver(**short, own_limits=own)
    assert row["is_scored"]
