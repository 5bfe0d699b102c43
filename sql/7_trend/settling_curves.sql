-- One row is a moment after a level-off or power change and the share of a cohort's events not yet trimmed by then.
-- A TABLE: charts, medians and differences read it.
-- Inputs: followed_events, cohort_classes, limits
-- Grain: cohort, figure, time_s
-- Units: time_s in seconds from the event's start; at_risk, settled and censored count events; survival and its 95 % interval are shares
-- Source: Kaplan-Meier, unsettled events censored. Events of one student go together: the interval rests on the infinitesimal jackknife summed
-- within students (Ying and Wei 1994), times G / (G - 1) for G students, and is never narrower than Greenwood's; it is taken on the
-- scale of log(-log S), so that it stays within 0 and 1. NULL with fewer than two students, and where all or none are left. Survival is
-- rounded to 12 places, so that one half is one half. Device class: the one that the cohort has flown most. figure is settled, set, or settled or set, whichever came first.
CREATE OR REPLACE TABLE settling_curves AS
WITH events AS (
    SELECT
        e.cohort,
        e.device_class,
        e.figure,
        e.student_id,
        e.time_s,
        e.is_settled
    FROM followed_events AS e
    INNER JOIN cohort_classes AS m ON e.cohort = m.cohort AND e.device_class = m.device_class
),

moments AS (
    SELECT
        cohort,
        device_class,
        figure,
        time_s,
        COUNT(*) FILTER (WHERE is_settled) AS settled,
        COUNT(*) FILTER (WHERE NOT is_settled) AS censored
    FROM events
    GROUP BY cohort, device_class, figure, time_s
),

at_risk_counts AS (
    SELECT
        cohort,
        device_class,
        figure,
        time_s,
        settled,
        censored,
        CAST(SUM(settled + censored) OVER later AS BIGINT) AS at_risk
    FROM moments
    WINDOW later AS (
        PARTITION BY cohort, figure
        ORDER BY time_s
        ROWS BETWEEN CURRENT ROW AND UNBOUNDED FOLLOWING
    )
),

curves AS (
    SELECT
        cohort,
        device_class,
        figure,
        time_s,
        settled,
        censored,
        at_risk,
        CASE
            WHEN MIN(at_risk - settled) OVER before = 0 THEN 0
            ELSE ROUND(EXP(SUM(LN(1 - settled / CAST(at_risk AS DOUBLE))) FILTER (WHERE at_risk > settled) OVER before), 12)
        END AS survival,
        SUM(settled / NULLIF(CAST(at_risk * (at_risk - settled) AS DOUBLE), 0)) OVER before AS greenwood_sum
    FROM at_risk_counts
    WINDOW before AS (PARTITION BY cohort, figure ORDER BY time_s)
),

student_moments AS (
    SELECT
        c.cohort,
        c.figure,
        c.time_s,
        e.student_id,
        COUNT(*) FILTER (WHERE e.is_settled AND e.time_s = c.time_s) AS own_settled,
        COUNT(*) FILTER (WHERE e.time_s >= c.time_s) AS own_at_risk,
        ANY_VALUE(c.settled) AS settled,
        ANY_VALUE(c.at_risk) AS at_risk
    FROM curves AS c
    INNER JOIN events AS e ON c.cohort = e.cohort AND c.figure = e.figure
    GROUP BY c.cohort, c.figure, c.time_s, e.student_id
),

influences AS (
    SELECT
        cohort,
        figure,
        time_s,
        student_id,
        SUM(
            (own_settled - own_at_risk * settled / CAST(at_risk AS DOUBLE)) / NULLIF(CAST(at_risk - settled AS DOUBLE), 0)
        ) OVER (PARTITION BY cohort, figure, student_id ORDER BY time_s) AS influence
    FROM student_moments
),

clustered AS (
    SELECT
        cohort,
        figure,
        time_s,
        COUNT(*) AS student_count,
        SUM(influence * influence ORDER BY student_id) * COUNT(*) / NULLIF(CAST(COUNT(*) - 1 AS DOUBLE), 0) AS cluster_sum
    FROM influences
    GROUP BY cohort, figure, time_s
),

variances AS (
    SELECT
        c.cohort,
        c.device_class,
        c.figure,
        c.time_s,
        c.at_risk,
        c.settled,
        c.censored,
        c.survival,
        v.student_count,
        c.survival * SQRT(c.greenwood_sum) AS greenwood_se,
        c.survival * SQRT(v.cluster_sum) AS cluster_se,
        CASE
            WHEN v.student_count > 1 AND c.survival > 0 AND c.survival < 1
                THEN SQRT(GREATEST(c.greenwood_sum, v.cluster_sum)) / LN(c.survival)
        END AS log_log_se,
        k.flag_wide_interval_z AS z
    FROM curves AS c
    CROSS JOIN limits AS k
    INNER JOIN clustered AS v ON c.cohort = v.cohort AND c.figure = v.figure AND c.time_s = v.time_s
),

starts AS (
    SELECT
        cohort,
        device_class,
        figure,
        COUNT(*) AS events,
        COUNT(DISTINCT student_id) AS students
    FROM events
    GROUP BY cohort, device_class, figure
    HAVING MIN(time_s) > 0
)

SELECT
    cohort,
    figure,
    time_s,
    device_class,
    at_risk,
    settled,
    censored,
    survival,
    POWER(survival, EXP(-z * log_log_se)) AS low,
    POWER(survival, EXP(z * log_log_se)) AS high,
    greenwood_se,
    cluster_se,
    student_count
FROM variances
UNION ALL
SELECT
    cohort,
    figure,
    0 AS time_s,
    device_class,
    events AS at_risk,
    0 AS settled,
    0 AS censored,
    1 AS survival,
    NULL AS low,
    NULL AS high,
    0 AS greenwood_se,
    0 AS cluster_se,
    students AS student_count
FROM starts
ORDER BY cohort, figure, time_s;
