-- One row is a cell of events at one time after them: the share not yet settled (or set), safe or not: not to be released as it stands. A TABLE: read several times.
-- Inputs: event_members, limits
-- Grain: cell_id, after_s
-- Units: after_s in seconds from the event's start; survival as a fraction
-- Source: Kaplan and Meier 1958: product over event times up to after_s of (1 - events / events at risk); times every share_curve_step_s up to
-- share_curve_end_s. students_at_risk counts students who still have an event followed then. Events of one student go together, so
-- no interval is given here: rows of single events carry the student's code for one.
CREATE OR REPLACE TABLE share_curves AS
WITH totals AS (
    SELECT
        cell_id,
        COUNT(*) AS event_count
    FROM event_members
    GROUP BY cell_id
),

times AS (
    SELECT
        cell_id,
        time_s,
        COUNT(*) AS ended,
        COUNT(*) FILTER (WHERE is_event) AS settled
    FROM event_members
    GROUP BY cell_id, time_s
),

risks AS (
    SELECT
        t.cell_id,
        t.time_s,
        t.settled,
        n.event_count - SUM(t.ended) OVER (PARTITION BY t.cell_id ORDER BY t.time_s) + t.ended AS at_risk
    FROM times AS t
    INNER JOIN totals AS n ON t.cell_id = n.cell_id
),

steps AS (
    SELECT
        cell_id,
        time_s,
        PRODUCT(1 - settled / CAST(at_risk AS DOUBLE)) OVER (PARTITION BY cell_id ORDER BY time_s) AS survival
    FROM risks
),

grid AS (
    SELECT
        n.cell_id,
        CAST(UNNEST(RANGE(0, CAST(k.share_curve_end_s + 1 AS BIGINT), CAST(k.share_curve_step_s AS BIGINT))) AS DOUBLE) AS after_s
    FROM totals AS n
    CROSS JOIN limits AS k
),

risk_counts AS (
    SELECT
        g.cell_id,
        g.after_s,
        COUNT(DISTINCT m.student_id) AS students_at_risk
    FROM grid AS g
    LEFT JOIN event_members AS m ON g.cell_id = m.cell_id AND m.time_s >= g.after_s
    GROUP BY g.cell_id, g.after_s
)

SELECT
    r.cell_id,
    r.after_s,
    r.students_at_risk,
    ROUND(COALESCE(ARG_MAX(s.survival, s.time_s), 1), 4) AS survival
FROM risk_counts AS r
LEFT JOIN steps AS s ON r.cell_id = s.cell_id AND s.time_s <= r.after_s
GROUP BY r.cell_id, r.after_s, r.students_at_risk;
