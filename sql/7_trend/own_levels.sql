-- One row is where a student stood after a session, from the student's own sessions alone: as flown, and again with the devices' effects taken off.
-- A TABLE: what leans on it reads it many times.
-- Inputs: session_windows, limits
-- Grain: session_id, aspect, is_adjusted
-- Units: own_ln, slope_ln_per_session and own_variance (squared) in the natural logarithm of tolerance ratio
-- Source: ours. A weighted straight line over the session's window, the newest counting most (half after flag_half_life_sessions), its
-- slope pulled to zero (flag_slope_sd over the root of the session count), read at the newest session. A figure further than
-- flag_clip_sd from the median of the last flag_clip_sessions is moved to that edge first, so that one odd day counts no further.
-- With fewer than flag_minimum_sessions sessions the slope is 0.
CREATE OR REPLACE TABLE own_levels AS
WITH centres AS (
    SELECT
        session_id,
        aspect,
        is_adjusted,
        MEDIAN(figure) AS centre
    FROM session_windows
    CROSS JOIN limits AS k
    WHERE ago < k.flag_clip_sessions
    GROUP BY session_id, aspect, is_adjusted
),

weighed AS (
    SELECT
        w.session_id,
        w.aspect,
        w.is_adjusted,
        w.student_id,
        w.cohort,
        w.stratum,
        w.session_date,
        w.session_no,
        w.ago,
        LEAST(
            GREATEST(w.figure, c.centre - k.flag_clip_sd * SQRT(w.variance)), c.centre + k.flag_clip_sd * SQRT(w.variance)
        ) AS figure,
        POWER(0.5, w.ago / k.flag_half_life_sessions) / w.variance AS weight,
        w.variance,
        CASE
            WHEN w.session_no >= k.flag_minimum_sessions THEN w.session_no / POWER(k.flag_slope_sd, 2)
        END AS stiffness
    FROM session_windows AS w
    CROSS JOIN limits AS k
    INNER JOIN centres AS c ON w.session_id = c.session_id AND w.aspect = c.aspect AND w.is_adjusted = c.is_adjusted
),

sums AS (
    SELECT
        session_id,
        aspect,
        is_adjusted,
        ANY_VALUE(student_id) AS student_id,
        ANY_VALUE(cohort) AS cohort,
        ANY_VALUE(stratum) AS stratum,
        ANY_VALUE(session_date) AS session_date,
        ANY_VALUE(session_no) AS session_no,
        ANY_VALUE(stiffness) AS stiffness,
        SUM(weight ORDER BY ago) AS w,
        SUM(weight * ago ORDER BY ago) AS wa,
        SUM(weight * figure ORDER BY ago) AS wy,
        SUM(weight * ago * ago ORDER BY ago) AS waa,
        SUM(weight * ago * figure ORDER BY ago) AS way,
        SUM(weight * weight * variance ORDER BY ago) AS wwv
    FROM weighed
    GROUP BY session_id, aspect, is_adjusted
),

lines AS (
    SELECT
        session_id,
        aspect,
        is_adjusted,
        student_id,
        cohort,
        stratum,
        session_date,
        session_no,
        wa / w AS mean_ago,
        wy / w AS mean_figure,
        wwv / (w * w) AS mean_variance,
        waa - wa * wa / w + stiffness AS pull,
        COALESCE((way - wa * wy / w) / (waa - wa * wa / w + stiffness), 0) AS slope_ago
    FROM sums
)

SELECT
    session_id,
    aspect,
    is_adjusted,
    student_id,
    cohort,
    stratum,
    session_date,
    session_no,
    mean_figure - slope_ago * mean_ago AS own_ln,
    mean_variance + COALESCE(mean_ago * mean_ago / pull, 0) AS own_variance,
    -slope_ago AS slope_ln_per_session
FROM lines
ORDER BY aspect, student_id, session_date, session_no, is_adjusted;
