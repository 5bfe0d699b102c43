"""The search for the moment from which everything stayed settled, told condition by condition."""

from __future__ import annotations

from collections.abc import Iterator

import duckdb

from pipeline.explain.rows import one_row, rows_of
from pipeline.explain.words import seconds, span

_LONGEST = """
    WITH marked AS (
        SELECT
            t_ms,
            stretch_no,
            COALESCE({condition}, FALSE) AS is_held
        FROM settling_steps
        WHERE maneuver_id = ?
    ),
    runs AS (
        SELECT
            *,
            ROW_NUMBER() OVER (ORDER BY t_ms)
            - ROW_NUMBER() OVER (PARTITION BY is_held, stretch_no ORDER BY t_ms) AS run
        FROM marked
    )
    SELECT MIN(t_ms) / 1000.0::DOUBLE AS start_s, MAX(t_ms) / 1000.0::DOUBLE AS end_s
    FROM runs
    WHERE is_held
    GROUP BY stretch_no, run
    ORDER BY end_s - start_s DESC, start_s
    LIMIT 1
"""

_CONDITIONS = (
    ("nothing held", "is_control_off"),
    ("on altitude", "is_on_altitude"),
    ("vertical speed near zero", "is_level"),
    ("all three at once", "is_control_off AND is_on_altitude AND is_level"),
)


def settling_lines(
    figures: duckdb.DuckDBPyConnection, steps: duckdb.DuckDBPyConnection, maneuver_id: str
) -> Iterator[str]:
    """Lines on a level-off's or power change's settling; none for other kinds."""
    found = one_row(figures, "SELECT * FROM trim_settling WHERE maneuver_id = ?", [maneuver_id])
    if found is None:
        return
    if found["is_settled"] is None:
        yield f"settling: unknown, {found['settling_reason']}"
        return
    [limits] = rows_of(figures, "SELECT * FROM limits")
    yield (
        f"settling: looked for {limits['settle_hold_s']:.0f} s with vertical speed within "
        f"{limits['settle_vertical_speed_fpm']:.0f} ft/min, altitude within "
        f"{limits['settle_altitude_ft']:.0f} ft and control within {limits['settle_control']:.2f} of neutral"
    )
    if found["is_settled"]:
        bound = " at most (a gap before it hides the rest)" if found["is_upper_bound"] else ""
        yield f"  settled {seconds(found['trim_settle_s'])} after the event's start{bound}"
    else:
        yield f"  not settled in the {seconds(found['followed_s'])} in which it could have begun (censored)"
    if found["is_set"]:
        yield f"  trimmed and left alone from {seconds(found['trim_set_s'])} after the event's start"
    elif found["is_set"] is not None:
        yield f"  not left alone for {limits['set_hold_s']:.0f} s within the event (censored)"
    for words, condition in _CONDITIONS:
        run = one_row(steps, _LONGEST.format(condition=condition), [maneuver_id])
        longest = "never" if run is None else f"longest {span(run['start_s'], run['end_s'])}"
        yield f"  {words}: {longest}"
