-- One row is what a data check found in the log of a session that counts.
-- A TABLE: nearly every other relation reads it.
-- Inputs: sessions
-- Grain: session_id, gate, channel, from_s
-- Units: affected counts samples (or rows, steps, gaps, tasks, as the check says); from_s and to_s in seconds from the session's start
-- Source: the checks made at landing, each explained by `levelhold definitions gates`; severity not_scored keeps the session from being scored
CREATE OR REPLACE TABLE session_gates AS
WITH found AS (
    SELECT
        session_id,
        UNNEST(gates) AS g
    FROM sessions
)

SELECT
    session_id,
    g.gate AS gate,
    g.severity AS severity,
    g.channel AS channel,
    g.affected AS affected,
    g.from_s AS from_s,
    g.to_s AS to_s,
    g.detail AS detail
FROM found;
