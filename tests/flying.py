"""A small invented school as tables of measures: what floors 6 to 8 rest on, without any flight."""

from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import numpy as np
import pyarrow as pa

from tests.tables import column_type

START = date(2026, 1, 5)
COLUMNS = {
    "as_of": "as_of_date",
    "students": "student_id cohort start_date stage left_on research_consent",
    "sessions": "session_id student_id cohort stage session_date started_at device_id device_class air "
    "lesson instructor_id",
    "session_air": "session_id used_air is_rougher",
    "session_gates": "session_id gate severity channel",
    "maneuvers": "maneuver_id session_id kind basis start_s target_heading_deg flown_by observed_s "
    "is_scored not_scored_reason",
    "maneuver_states": "maneuver_id is_autopilot_on",
    "altitude_hold": "maneuver_id altitude_bias_ft altitude_sd_ft altitude_rmse_ft altitude_hold95_ft "
    "altitude_drift_ft_per_min altitude_hold_reason",
    "heading_hold": "maneuver_id heading_bias_deg heading_sd_deg heading_rmse_deg heading_hold95_deg "
    "heading_drift_deg_per_min heading_hold_reason",
    "held_control": "maneuver_id held_control held_force_n is_untrimmed held_control_reason",
    "tolerance_excursions": "maneuver_id channel tolerance in_tolerance excursions_2x longest_out_s "
    "excursions_reason",
    "steadiness": "maneuver_id control_reversals_per_min near_zero_vs",
    "technique": "maneuver_id is_chasing trims trims_wrong trims_unsteady",
    "roll_trim": "maneuver_id heavy_wing",
    "capture_figures": "maneuver_id overshoot_ft",
    "trim_settling": "maneuver_id trim_settle_s is_settled followed_s trim_set_s is_set set_followed_s",
    "device_neutrals": "device_id session_date neutral_se",
    "reviews": "review_id kind session_id maneuver_id student_id aspect note made_at until",
    "stage_standards": "stage standard_id",
    "standard_changes": "student_id changed_on stage previous_standard_id standard_id change_reason",
    "own_limits": "name value",
    "own_standards": "standard_id channel tolerance unit",
}  # fmt: skip

Rows = dict[str, list[dict[str, Any]]]


def no_flights() -> dict[str, pa.Table]:
    """All the tables, without a row."""
    return tables({})


def tables(rows: Rows) -> dict[str, pa.Table]:
    """The tables of some rows; columns not given are NULL."""
    out = {}
    for name, columns in COLUMNS.items():
        schema = pa.schema([(c, column_type(c)) for c in columns.split()])
        given = rows.get(name, [])
        out[name] = pa.Table.from_pylist(
            [{c: r.get(c) for c in schema.names} for r in given], schema
        )
    return out


def fly(truths: dict[str, float], *, sessions: int = 8, seed: int = 1) -> Rows:
    """Students whose altitude is held to `truth` times 200 ft, every third day, four legs a session.

    Heading is well held; control is held by nobody; each session has one level-off.
    """
    rng = np.random.default_rng(seed)
    rows: Rows = {name: [] for name in COLUMNS}
    for number, (student, truth) in enumerate(truths.items()):
        rows["students"].append({"student_id": student, "cohort": "c1", "start_date": START})
        for n in range(sessions):
            _fly_session(rows, rng, student, truth, number, n)
    last = max(row["session_date"] for row in rows["sessions"])
    rows["as_of"] = [{"as_of_date": last}]
    return rows


def _fly_session(
    rows: Rows, rng: np.random.Generator, student: str, truth: float, number: int, n: int
) -> None:
    on = START + timedelta(days=3 * n + number % 3)
    session = f"{student}-{n:02d}"
    rows["sessions"].append(
        {
            "session_id": session,
            "student_id": student,
            "cohort": "c1",
            "session_date": on,
            "started_at": datetime.combine(on, time(9), UTC),
            "device_id": f"D{(number + n) % 3}",
            "device_class": "simulator",
            "air": "smooth",
        }
    )
    for leg in range(5):
        _fly_leg(rows, rng, f"{session}.1.{leg:02d}", session, truth, is_level=leg < 4)


def _fly_leg(
    rows: Rows, rng: np.random.Generator, name: str, session: str, truth: float, *, is_level: bool
) -> None:
    hold = float(200 * truth * np.exp(rng.normal(0, 0.25)))
    spread, bias = 0.45 * hold, float(rng.normal(0, 0.2 * hold))
    rows["maneuvers"].append(
        {
            "maneuver_id": name,
            "session_id": session,
            "kind": "level" if is_level else "level_off",
            "basis": "assigned",
            "start_s": 100.0 * int(name[-2:]),
            "target_heading_deg": float(rng.integers(0, 36) * 10),
            "flown_by": "student",
            "observed_s": 90.0,
            "is_scored": is_level,
            "not_scored_reason": None if is_level else "only level maneuvers are scored",
        }
    )
    if not is_level:
        settles = bool(rng.random() < 0.6)
        seconds = {"trim_settle_s" if settles else "followed_s": 45.0, "set_followed_s": 40.0}
        rows["trim_settling"].append(
            {"maneuver_id": name, "is_settled": settles, "is_set": False, "followed_s": 70.0}
            | seconds
        )
        return
    rows["altitude_hold"].append(
        {
            "maneuver_id": name,
            "altitude_bias_ft": bias,
            "altitude_sd_ft": spread,
            "altitude_rmse_ft": float(np.hypot(bias, spread)),
            "altitude_hold95_ft": hold,
            "altitude_drift_ft_per_min": float(rng.normal(0, 0.1 * hold)),
        }
    )
    rows["heading_hold"].append(
        {
            "maneuver_id": name,
            "heading_bias_deg": 1.0,
            "heading_sd_deg": 4.0,
            "heading_rmse_deg": float(np.hypot(1, 4)),
            "heading_hold95_deg": float(9 * np.exp(rng.normal(0, 0.2))),
            "heading_drift_deg_per_min": 0.1,
        }
    )
    rows["held_control"].append({"maneuver_id": name, "held_control": 0.012, "is_untrimmed": False})
    rows["steadiness"].append(
        {"maneuver_id": name, "control_reversals_per_min": 5.0, "near_zero_vs": 0.7}
    )
    for channel, tolerance in (("altitude", 200.0), ("heading", 20.0)):
        rows["tolerance_excursions"].append(
            {
                "maneuver_id": name,
                "channel": channel,
                "tolerance": tolerance,
                "in_tolerance": 0.9 if hold > 200 else 1.0,
                "excursions_2x": 0,
                "longest_out_s": 5.0,
            }
        )
