-- One row is a change of power in level flight that was found in a log.
-- Inputs: slow_motions, found_climbs, limits
-- Grain: session_id, revision, start_no
-- Units: start_no in whole seconds from the session's start; power_step in fractions of full power
-- Source: ours. Power steps by inferred_power_step or more out of a quiet setting and keeps inferred_power_kept of it over the next minute; of such
-- seconds no more than 5 s apart, with no break between them, the greatest step is told. Steps from 20 s before a climb or descent to 30 s after it
-- belong to that. Without a logged power none is found.
CREATE OR REPLACE VIEW found_power_changes AS
WITH steps AS (
    SELECT
        m.session_id,
        m.revision,
        m.stretch_no,
        m.second_no,
        m.power_step
    FROM slow_motions AS m
    CROSS JOIN limits AS l
    WHERE
        ABS(m.power_step) >= l.inferred_power_step
        AND m.power_kept * SIGN(m.power_step) >= l.inferred_power_kept
        AND m.power_unrest <= l.inferred_power_steady
),

begun AS (
    SELECT
        *,
        COALESCE(second_no - LAG(second_no) OVER (PARTITION BY session_id, revision, stretch_no ORDER BY second_no) > 5, TRUE) AS is_begun
    FROM steps
),

numbered AS (
    SELECT
        *,
        SUM(CASE WHEN is_begun THEN 1 ELSE 0 END) OVER (PARTITION BY session_id, revision ORDER BY second_no) AS step_no
    FROM begun
),

changes AS (
    SELECT
        session_id,
        revision,
        stretch_no,
        ARG_MAX(second_no, ABS(power_step)) AS start_no,
        ARG_MAX(power_step, ABS(power_step)) AS power_step
    FROM numbered
    GROUP BY session_id, revision, stretch_no, step_no
)

SELECT
    c.session_id,
    c.revision,
    c.stretch_no,
    c.start_no,
    c.power_step
FROM changes AS c
ANTI JOIN found_climbs AS v
    ON
        c.session_id = v.session_id AND c.revision = v.revision
        AND c.start_no BETWEEN v.start_no - 20 AND v.end_no + 30;
