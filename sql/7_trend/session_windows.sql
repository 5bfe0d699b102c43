-- One row is one of the latest sessions as a session looks back on it: as flown, and again with the device's effect taken off.
-- A TABLE: levels and trends both read it, and the join runs once.
-- Inputs: session_figures, pooled_noise, device_effects, limits
-- Grain: session_id, aspect, is_adjusted, ago
-- Units: ago in sessions (0 is the session itself); figure in the natural logarithm of tolerance ratio, variance in its square
-- Source: the last flag_window_sessions sessions that count in the student's stratum; noise and device effects as of the session's date
CREATE OR REPLACE TABLE session_windows AS
WITH counted AS (
    SELECT
        session_id,
        aspect,
        student_id,
        cohort,
        stratum,
        device_class,
        device_id,
        session_date,
        session_no,
        maneuver_count,
        ln_ratio,
        neutral_variance
    FROM session_figures
    WHERE is_counted
)

SELECT
    c.session_id,
    c.aspect,
    a.is_adjusted,
    c.session_no - w.session_no AS ago,
    c.student_id,
    c.cohort,
    c.stratum,
    c.session_date,
    c.session_no,
    w.ln_ratio - CASE WHEN a.is_adjusted THEN COALESCE(e.effect_ln, 0) ELSE 0 END AS figure,
    n.between_variance + n.within_variance / w.maneuver_count + w.neutral_variance AS variance
FROM counted AS c
CROSS JOIN limits AS k
CROSS JOIN (VALUES (FALSE), (TRUE)) AS a (is_adjusted)
INNER JOIN counted AS w
    ON
        c.student_id = w.student_id
        AND c.aspect = w.aspect
        AND c.stratum = w.stratum
        AND w.session_no <= c.session_no
        AND w.session_no > c.session_no - k.flag_window_sessions
INNER JOIN pooled_noise AS n
    ON c.cohort = n.cohort AND c.aspect = n.aspect AND c.stratum = n.stratum AND c.session_date = n.session_date
LEFT JOIN device_effects AS e
    ON c.aspect = e.aspect AND c.device_class = e.device_class AND c.session_date = e.session_date AND w.device_id = e.device_id;
