"""current_levels: the latest session that counts, in each stratum."""

# ruff: noqa: E501 (tables in text are wide)

from tests.tables import rows_of


def test_the_latest_session_of_each_stratum_and_which_was_flown_last() -> None:
    columns = [
        "level_ratio", "level_low", "level_high", "level_low95", "level_high95", "level_ratio_adjusted", "p_not_met",
        "p_not_met_adjusted", "confidence", "state", "trend", "is_flagged", "since_date", "cleared_date",
        "is_device_doubt", "recent_outside", "recent_sessions", "flown_sessions", "excluded_sessions",
        "excluded_share", "cohort", "device_class", "standard_id", "tolerance", "unit",
    ]  # fmt: skip
    levels = (
        "student_id | aspect | stratum | session_id | session_date | started_at | session_no | "
        + " | ".join(columns)
    )
    for stratum, session, day, number in (
        ("sim", "s1", "01", 1), ("sim", "s2", "05", 2), ("plane", "s3", "03", 1), ("plane", "s4", "09", 2),
    ):  # fmt: skip
        levels += (
            f"\nA | altitude | {stratum} | {session} | 2026-03-{day} | 2026-03-{day}T09:00 | {number}"
            + " | -" * len(columns)
        )
    rows = rows_of("current_levels", student_levels=levels, as_of="as_of_date\n2026-03-10")
    found = {r["stratum"]: (r["session_id"], r["days_since"], r["is_current"]) for r in rows}
    assert found == {"sim": ("s2", 5, False), "plane": ("s4", 1, True)}
