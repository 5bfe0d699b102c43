"""What an empty cell means, column by column: so that nobody has to guess, or reads it as zero."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Final

from pipeline.export.data_files import WITHHELD, withheld_flags

_NO_START: Final = "the student's start is not known or later"
_MASKED: Final = "empty: masked, too few students share the combination"
_STANDARD: Final = "or masked with the standard"

_CELLS: Final[Mapping[str, str]] = {
    "cohort": "empty: the cell is not of one cohort (cell_level)",
    "week_no": "empty: the cell is not of one week (cell_level)",
    "ln_sd": "empty: one week only",
    "met_share": "empty: told as met_share_bound",
    "met_low": "empty: told as met_share_bound",
    "met_high": "empty: told as met_share_bound",
    "met_share_bound": "empty: met_share itself is told",
    "altitude_met_share": "empty: told as altitude_met_share_bound",
    "heading_met_share": "empty: told as heading_met_share_bound",
    "trim_met_share": "empty: told as trim_met_share_bound",
    "altitude_met_share_bound": "empty: altitude_met_share itself is told",
    "heading_met_share_bound": "empty: heading_met_share itself is told",
    "trim_met_share_bound": "empty: trim_met_share itself is told",
    "survival": "empty: told as survival_bound",
    "survival_bound": "empty: survival itself is told",
    "share_percent": "empty: no share of students is given",
}
_ROWS: Final[Mapping[str, str]] = {
    "cohort": _MASKED,
    "standard_id": _MASKED,
    "device_code": "empty: flown by too few students, or the device was not named",
    "air": "empty: not declared",
    "flown_by": "empty: not told; taken as the student",
    "value": "empty: see missing_code; without a code masked, or the maneuver has no such figure",
    "missing_code": "empty: nothing is missing, or what is missing was masked or does not apply",
    "time_s": "empty: cannot be known, see missing_code",
    "is_event": "empty: cannot be known, see missing_code",
    "is_upper_bound": "empty: cannot be known, see missing_code",
    "is_vertical_speed_derived": "empty: see steadiness_code",
    "held_force_n": "empty: no force was logged, or see held_control_code",
    "held_control": "empty: see held_control_code",
    "is_untrimmed": "empty: see held_control_code",
    "trim_ratio": "empty: not scored, see not_scored_code and held_control_code",
}
_WEEKS_WIDE: Final[Mapping[str, str]] = {
    column: f"empty: no session that counts in {aspect} that week"
    for aspect in ("altitude", "heading", "trim")
    for column in (f"{aspect}_ratio", f"is_{aspect}_met")
}
_STEADINESS: Final = (
    *("vertical_speed_rms_fpm", "near_zero_vs", "control_reversals_per_min"),
    *("control_sd", "trim_inputs", "trim_reversals"),
)


def what_empty_means(column: str, columns: Collection[str], *, is_required: bool) -> str:
    """What an empty cell of a column means in the table that has these columns; "" if that is not known."""
    if is_required:
        return "never empty"
    flag = withheld_flags(tuple(columns)).get(column)
    if flag is not None:
        told = _CELLS.get(column, "")
        return f"{WITHHELD}: {flag} is true" + (f"; {told}" if told else "")
    if _is_of_cells(columns):
        return _CELLS.get(column, "never empty")
    if column == "week_no":
        masked = "is_week_masked" if "is_week_masked" in columns else "week_id begins with late"
        return f"empty: masked where {masked}; else {_NO_START}"
    if "week_id" in columns and column in _WEEKS_WIDE:
        return _WEEKS_WIDE[column]
    return _ROWS.get(column) or _of_a_maneuver(column) or "never empty"


def _is_of_cells(columns: Collection[str]) -> bool:
    return any(name.endswith("_withheld") for name in columns)


def _of_a_maneuver(column: str) -> str:
    if column.endswith("_code") and column not in ("student_code", "session_code", "maneuver_code"):
        return "empty: nothing is missing"
    if column in _STEADINESS:
        return "empty: not logged or not observed, see steadiness_code"
    for aspect in ("altitude", "heading"):
        if column in (f"{aspect}_in_tolerance", f"{aspect}_excursions"):
            return f"empty: see {aspect}_hold_code, {_STANDARD}"
        if column == f"{aspect}_ratio":
            return f"empty: not scored, see not_scored_code and {aspect}_hold_code, {_STANDARD}"
    for aspect in ("altitude", "heading", "airspeed"):
        if column.startswith(f"{aspect}_"):
            return f"empty: see {aspect}_hold_code"
    return ""
