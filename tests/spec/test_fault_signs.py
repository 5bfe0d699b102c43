"""fault_signs: what is most plainly wrong, chosen from the figures of the latest level maneuvers."""

# ruff: noqa: E501 (tables in text are wide)

import re
from typing import Any

import pytest

from pipeline.relations import relation_files
from tests.tables import rows_of

CALM = {
    "altitude": {"bias": 0.0, "sd": 50.0, "drift": 0.0},
    "heading": {"bias": 0.0, "sd": 5.0, "drift": 0.0},
}


def faults(aspect: str, maneuvers: list[dict[str, Any]]) -> dict[str, Any]:
    """The row of one student flown so; each maneuver gives what differs from a calm one of two minutes."""
    tables: dict[str, list[str]] = {
        "evidence_maneuvers": ["student_id | aspect | stratum | session_id | maneuver_id | tolerance_ratio"],
        "maneuvers": ["maneuver_id | session_id | kind | observed_s | target_heading_deg | flown_by"],
        "altitude_hold": ["maneuver_id | altitude_bias_ft | altitude_sd_ft | altitude_rmse_ft | altitude_drift_ft_per_min"],
        "heading_hold": ["maneuver_id | heading_bias_deg | heading_sd_deg | heading_rmse_deg | heading_drift_deg_per_min"],
        "current_levels": [
            "student_id | aspect | stratum | tolerance",
            f"A | {aspect} | sim | {200 if aspect == 'altitude' else 20}",
        ],
        "technique": ["maneuver_id | is_chasing | trims | trims_wrong | trims_unsteady"],
        "roll_trim": ["maneuver_id | heavy_wing"],
        "capture_figures": ["maneuver_id | overshoot_ft"],
        "steadiness": ["maneuver_id | control_reversals_per_min | near_zero_vs"],
        "held_control": ["maneuver_id | held_control"],
    }  # fmt: skip
    for n, given in enumerate(maneuvers):
        name = f"m{n}"
        tables["technique"].append(
            f"{name} | {given.get('chasing', 'no')} | {given.get('trims', 4)} | {given.get('wrong', 0)} "
            f"| {given.get('unsteady', 0)}"
        )
        tables["roll_trim"].append(f"{name} | {given.get('heavy', '-')}")
        tables["capture_figures"].append(f"{name}-off | {given.get('overshoot', '-')}")
        tables["evidence_maneuvers"].append(
            f"A | {aspect} | sim | s{n} | {name} | {given.get('ratio', 1.5)}"
        )
        tables["maneuvers"] += [
            f"{name} | s{n} | level | 120 | {given.get('target', 90)} | student",
            f"{name}-off | s{n} | level_off | 120 | 90 | student",
        ]
        for hold in ("altitude", "heading"):
            f = CALM[hold] | (given if hold == aspect else {})
            rmse = (f["bias"] ** 2 + f["sd"] ** 2) ** 0.5
            tables[f"{hold}_hold"].append(
                f"{name} | {f['bias']} | {f['sd']} | {rmse} | {f['drift']}"
            )
        tables["steadiness"].append(
            f"{name} | {given.get('reversals', 4)} | {given.get('near', 0.5)}"
        )
        tables["held_control"].append(f"{name} | {given.get('held', 0.01)}")
    (row,) = rows_of("fault_signs", **{name: "\n".join(lines) for name, lines in tables.items()})
    return row


@pytest.mark.parametrize(
    ("aspect", "maneuver", "fault", "words"),
    [
        (
            "trim",
            {"held": 0.12},
            "held_pull",
            "a steady pull is held (plain mean of the latest level flights: 0.120 of travel)",
        ),
        (
            "trim",
            {"held": -0.12},
            "held_push",
            "a steady push is held (plain mean of the latest level flights: 0.120 of travel)",
        ),
        (
            "trim",
            {"held": 0.02, "reversals": 30, "near": 0.2, "chasing": "yes"},
            "chasing",
            "the control reverses 30 times a minute and the needle is near zero for only 20 % of the time",
        ),
        (
            "trim",
            {"held": 0.02},
            "late_trim",
            "little is held in level flight; the trim comes late after changes",
        ),
        (
            "altitude",
            {"held": 0.12},
            "altitude_with_pull",
            "a steady pull is held (plain mean of the latest level flights: 0.120 of travel)",
        ),
        (
            "altitude",
            {"held": -0.12},
            "altitude_with_push",
            "a steady push is held (plain mean of the latest level flights: 0.120 of travel)",
        ),
        (
            "altitude",
            {"reversals": 30, "near": 0.2, "chasing": "yes"},
            "altitude_chasing",
            "the control reverses 30 times a minute and the needle is near zero for only 20 % of the time",
        ),
        ("altitude", {"bias": 120.0}, "altitude_high", "120 ft high on average"),
        ("altitude", {"bias": -120.0}, "altitude_low", "120 ft low on average"),
        (
            "altitude",
            {"drift": 80.0},
            "altitude_drift",
            "mostly by drifting, 80 ft a minute (85 % of the spread)",
        ),
        (
            "altitude",
            {"drift": -80.0},
            "altitude_drift",
            "mostly by drifting, −80 ft a minute (85 % of the spread)",
        ),
        ("altitude", {"sd": 150.0}, "altitude_spread", "wandering by 150 ft about its own mean"),
        (
            "heading",
            {"bias": 12.0},
            "heading_off",
            "mostly by settling away from the heading asked for, which is most of the error (85 % of its square)",
        ),
        ("heading", {"drift": -8.0}, "heading_drift_left", "drifting left by 8.0° a minute"),
        ("heading", {"drift": 8.0}, "heading_drift_right", "drifting right by 8.0° a minute"),
        (
            "heading",
            {"heavy": "left"},
            "heading_heavy_wing",
            "the left wing is heavy in 5 of 5 level flights",
        ),
        (
            "trim",
            {"held": 0.12, "wrong": 3},
            "trim_wrong_way",
            "75 % of the trim inputs went the wrong way",
        ),
        (
            "trim",
            {"held": 0.02, "unsteady": 3},
            "flying_by_trim",
            "75 % of the trim inputs came while still climbing or descending",
        ),
        (
            "altitude",
            {"sd": 150.0, "overshoot": 210},
            "altitude_overshoot",
            "level-offs overshoot by 210 ft (median of 5)",
        ),
        ("heading", {"sd": 11.0}, "heading_spread", "wandering by 11.0° about its own mean"),
    ],
)
def test_the_plainest_fault_is_named_with_its_figures(
    aspect: str, maneuver: dict[str, Any], fault: str, words: str
) -> None:
    row = faults(aspect, [maneuver] * 5)
    assert (row["fault"], row["fault_words"]) == (fault, words)


def test_a_sign_that_changes_is_told_as_such() -> None:
    both_ways = faults("trim", [{"held": 0.12}, {"held": -0.12}, {"held": 0.13}, {"held": -0.11}])
    assert (both_ways["fault"], both_ways["held_sign"]) == ("held_both_ways", None)
    off = faults("altitude", [{"bias": 120.0}, {"bias": -120.0}, {"bias": 90.0}])
    assert off["fault"] == "altitude_off"
    wandering = faults("heading", [{"drift": 8.0}, {"drift": -8.0}, {"drift": 8.0}])
    assert wandering["fault"] == "heading_drift"


def test_four_fifths_of_the_maneuvers_give_a_sign() -> None:
    row = faults("trim", [{"held": 0.12}] * 4 + [{"held": -0.06}])
    assert (row["fault"], row["held_sign"]) == ("held_pull", 1)


def test_headings_poor_only_across_north_are_told() -> None:
    legs = [
        {"target": 355, "ratio": 2.0},
        {"target": 5, "ratio": 1.8},
        {"target": 90, "ratio": 0.8},
        {"target": 200, "ratio": 1.0},
    ]
    row = faults("heading", legs)
    assert row["fault"] == "heading_north"
    assert row["fault_words"] == "1.9 times the tolerance near north, 0.9 elsewhere"


def test_a_habit_is_told_where_three_fifths_of_the_maneuvers_show_it() -> None:
    once: dict[str, Any] = {"chasing": "yes"}
    assert faults("altitude", [once] * 3 + [{}] * 2)["is_chasing"] is True
    assert faults("altitude", [once] * 2 + [{}] * 2)["is_chasing"] is False
    assert (
        faults("heading", [{"heavy": "right"}] * 2 + [{"heavy": "left"}] * 2)["fault"]
        == "heading_spread"
    )


def test_four_trim_inputs_in_all_tell_nothing_of_how_the_trim_is_used() -> None:
    assert faults("trim", [{"trims": 4, "wrong": 4}])["is_wrong_way"] is False
    assert faults("trim", [{"trims": 5, "wrong": 3}])["is_wrong_way"] is True


def test_an_overshoot_within_the_tolerance_or_of_two_level_offs_is_none() -> None:
    assert faults("altitude", [{"overshoot": 199}] * 3)["is_overshooting"] is False
    assert faults("altitude", [{"overshoot": 200}] * 3)["is_overshooting"] is True
    assert faults("altitude", [{"overshoot": 300}] * 2)["is_overshooting"] is False


def test_one_leg_near_north_tells_nothing() -> None:
    legs = [
        {"target": 0, "ratio": 3.0},
        {"target": 90, "ratio": 0.8},
        {"target": 200, "ratio": 1.0},
    ]
    assert faults("heading", legs)["fault"] == "heading_spread"


def test_every_fault_and_habit_has_one_exercise() -> None:
    exercises = [r["fault"] for r in rows_of("exercises")]
    assert len(exercises) == len(set(exercises))
    text = "".join(relation_files()[n].text for n in ("fault_signs", "worth_a_word"))
    named = set(re.findall(r"THEN '(\w+)'|ELSE '(\w+)'|'(\w+)' AS habit", text))
    told = {word for found in named for word in found if word} - {"left", "right"}
    assert told == set(exercises)
