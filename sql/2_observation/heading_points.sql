-- One row is a heading, unwrapped along time: from 359 to 1 the value goes on to 361; only differences and remainders of 360 mean anything.
-- Inputs: stored_samples
-- Grain: session_id, revision, t_ms
-- Units: times in milliseconds from the session's start; value in degrees magnetic, without bounds
-- Source: the recorder; between neighbours the short way round is taken
CREATE OR REPLACE VIEW heading_points AS
WITH neighbours AS (
    SELECT
        session_id,
        revision,
        t_ms,
        CAST(heading_deg AS DOUBLE) AS heading_deg,
        CAST(LAG(heading_deg) OVER () AS DOUBLE) AS previous_deg,
        CASE WHEN LAG(session_id) OVER () = session_id AND LAG(revision) OVER () = revision THEN LAG(t_ms) OVER () END AS previous_ms,
        CASE WHEN LEAD(session_id) OVER () = session_id AND LEAD(revision) OVER () = revision THEN LEAD(t_ms) OVER () END AS next_ms
    FROM stored_samples
    WHERE heading_deg IS NOT NULL
),

turns AS (
    SELECT
        session_id,
        revision,
        t_ms,
        heading_deg,
        previous_deg,
        previous_ms,
        next_ms,
        CASE
            WHEN heading_deg - previous_deg <= -180 THEN 1
            WHEN heading_deg - previous_deg > 180 THEN -1
            ELSE 0
        END AS passed_north
    FROM neighbours
),

counted AS (
    SELECT
        *,
        SUM(passed_north) OVER (ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW) AS passings
    FROM turns
)

SELECT
    session_id,
    revision,
    t_ms,
    heading_deg + 360 * passings AS value,
    previous_ms,
    previous_deg + 360 * (passings - passed_north) AS previous_value,
    next_ms
FROM counted;
