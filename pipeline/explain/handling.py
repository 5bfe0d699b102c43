"""How a maneuver was handled: steadiness, the held control, and what the aeroplane did by itself."""

from __future__ import annotations

from collections.abc import Iterator

from pipeline.explain.opened import Opened, figures_of
from pipeline.explain.rows import one_row, rows_of
from pipeline.explain.words import (
    feet,
    plain,
    push_or_pull,
    seconds,
    span,
    travel,
)


def steadiness_lines(opened: Opened) -> Iterator[str]:
    """How much the vertical speed, the control and the trim moved."""
    found = figures_of(opened, "steadiness")
    yield "steadiness" + (
        "" if found["steadiness_reason"] is None else f": {found['steadiness_reason']}"
    )
    if found["vertical_speed_rms_fpm"] is not None:
        derived = " (derived from altitude)" if found["is_vertical_speed_derived"] else ""
        yield (
            f"  vertical speed {plain(found['vertical_speed_rms_fpm'], 0)} ft/min root mean square{derived}, "
            f"near zero for {100 * found['near_zero_vs']:.0f} % of the time"
        )
    if found["control_reversals_per_min"] is not None:
        yield (
            f"  control turned round {plain(found['control_reversals_per_min'], 1)} times a minute, "
            f"spread {travel(found['control_sd'])}"
        )
    if found["trim_inputs"] is not None:
        yield f"  trim inputs {found['trim_inputs']}, of which reversals {found['trim_reversals']}"


def held_lines(opened: Opened) -> Iterator[str]:
    """What was held on the control, and from where it was counted."""
    row = one_row(
        opened.figures,
        """
        SELECT h.*, n.pitch_neutral, n.student_count
        FROM held_control AS h
        INNER JOIN maneuvers AS m ON h.maneuver_id = m.maneuver_id
        INNER JOIN sessions AS s ON m.session_id = s.session_id
        LEFT JOIN device_neutrals AS n ON s.device_id = n.device_id AND s.session_date = n.session_date
        WHERE h.maneuver_id = ?
        """,
        [opened.maneuver["maneuver_id"]],
    )
    if row is None:
        return
    if row["held_control_reason"] is not None:
        yield f"held control: unknown, {row['held_control_reason']}"
    elif row["held_control"] is None:
        yield f"held force {plain(row['held_force_n'], 1)} N: {push_or_pull(row['held_force_n'])}"
    else:
        held, neutral = row["held_control"], row["pitch_neutral"]
        verdict = push_or_pull(held) if row["is_untrimmed"] else "little enough to call trimmed"
        yield f"held control {travel(held, signed=True)}: {verdict}"
        yield (
            f"  mean pitch control {travel(held + neutral, signed=True)} less the device's neutral "
            f"{travel(neutral, signed=True)} (median of {row['student_count']} students)"
        )


def hands_off_lines(opened: Opened) -> Iterator[str]:
    """Each stretch in which the aeroplane was left to itself."""
    stretches = rows_of(
        opened.figures,
        "SELECT * FROM hands_off WHERE maneuver_id = ? ORDER BY stretch_no",
        [opened.maneuver["maneuver_id"]],
    )
    for stretch in stretches:
        breathing = ""
        if stretch["period_s"] is not None:
            breathing = f", period {seconds(stretch['period_s'])}"
            if stretch["lanchester_period_s"] is not None:
                breathing += f" (Lanchester's: {seconds(stretch['lanchester_period_s'])})"
        if stretch["damping_ratio"] is not None:
            breathing += f", damping {plain(stretch['damping_ratio'])} of critical"
        yield (
            f"hands off {span(stretch['start_s'], stretch['end_s'])}: the aeroplane wandered "
            f"{feet(stretch['wander_ft'])} by itself{breathing}"
        )
