-- One row is two cohorts and whether one of them is trimmed sooner after level-offs and power changes.
-- Inputs: followed_events, cohort_classes
-- Grain: figure, cohort, other_cohort
-- Units: log_rank_chi2 with one degree of freedom; z in standard deviations, + where the first cohort is trimmed later; p a two-sided probability
-- Source: the log-rank test (Mantel 1966) as if events were independent, and z with the score's variance summed within students, who are the
-- unit: each student's share of the score is what was seen less what was to be expected. p from z. NULL with fewer than two students on a side.
CREATE OR REPLACE VIEW settling_differences AS
WITH events AS (
    SELECT
        e.cohort,
        e.figure,
        e.device_class,
        e.student_id,
        e.time_s,
        e.is_settled
    FROM followed_events AS e
    INNER JOIN cohort_classes AS m ON e.cohort = m.cohort AND e.device_class = m.device_class
),

pairs AS (
    SELECT DISTINCT
        a.figure,
        a.device_class,
        a.cohort,
        b.cohort AS other_cohort
    FROM events AS a
    INNER JOIN events AS b ON a.figure = b.figure AND a.device_class = b.device_class AND a.cohort < b.cohort
),

paired_events AS (
    SELECT
        p.figure,
        p.cohort,
        p.other_cohort,
        e.student_id,
        e.cohort = p.cohort AS is_first,
        e.time_s,
        e.is_settled
    FROM pairs AS p
    INNER JOIN events AS e
        ON p.figure = e.figure AND p.device_class = e.device_class AND (e.cohort = p.cohort OR e.cohort = p.other_cohort)
),

moments AS (
    SELECT DISTINCT
        figure,
        cohort,
        other_cohort,
        time_s
    FROM paired_events
    WHERE is_settled
),

tables AS (
    SELECT
        m.figure,
        m.cohort,
        m.other_cohort,
        m.time_s,
        CAST(COUNT(*) FILTER (WHERE b.time_s >= m.time_s) AS DOUBLE) AS n,
        CAST(COUNT(*) FILTER (WHERE b.time_s >= m.time_s AND b.is_first) AS DOUBLE) AS n_first,
        CAST(COUNT(*) FILTER (WHERE b.is_settled AND b.time_s = m.time_s) AS DOUBLE) AS d
    FROM moments AS m
    INNER JOIN paired_events AS b ON m.figure = b.figure AND m.cohort = b.cohort AND m.other_cohort = b.other_cohort
    GROUP BY m.figure, m.cohort, m.other_cohort, m.time_s
),

variances AS (
    SELECT
        figure,
        cohort,
        other_cohort,
        SUM(CASE WHEN n > 1 THEN d * n_first / n * (1 - n_first / n) * (n - d) / (n - 1) ELSE 0 END ORDER BY time_s) AS variance
    FROM tables
    GROUP BY figure, cohort, other_cohort
),

student_scores AS (
    SELECT
        b.figure,
        b.cohort,
        b.other_cohort,
        b.student_id,
        b.is_first,
        SUM(
            CASE WHEN b.is_settled AND b.time_s = t.time_s THEN (CASE WHEN b.is_first THEN 1 ELSE 0 END) - t.n_first / t.n ELSE 0 END
            - ((CASE WHEN b.is_first THEN 1 ELSE 0 END) - t.n_first / t.n) * t.d / t.n
            ORDER BY t.time_s, b.time_s
        ) AS score
    FROM paired_events AS b
    INNER JOIN tables AS t
        ON b.figure = t.figure AND b.cohort = t.cohort AND b.other_cohort = t.other_cohort AND b.time_s >= t.time_s
    GROUP BY b.figure, b.cohort, b.other_cohort, b.student_id, b.is_first
),

scores AS (
    SELECT
        figure,
        cohort,
        other_cohort,
        SUM(score ORDER BY student_id) AS score,
        SUM(score * score ORDER BY student_id) AS cluster_variance,
        COUNT(*) FILTER (WHERE is_first) AS student_count,
        COUNT(*) FILTER (WHERE NOT is_first) AS other_students
    FROM student_scores
    GROUP BY figure, cohort, other_cohort
),

tested AS (
    SELECT
        s.figure,
        s.cohort,
        s.other_cohort,
        s.student_count,
        s.other_students,
        POWER(s.score, 2) / NULLIF(v.variance, 0) AS log_rank_chi2,
        CASE WHEN LEAST(s.student_count, s.other_students) > 1 THEN -s.score / NULLIF(SQRT(s.cluster_variance), 0) END AS z
    FROM scores AS s
    INNER JOIN variances AS v ON s.figure = v.figure AND s.cohort = v.cohort AND s.other_cohort = v.other_cohort
)

SELECT
    figure,
    cohort,
    other_cohort,
    student_count,
    other_students,
    log_rank_chi2,
    z,
    2 / (1 + EXP(1.5976 * ABS(z) + 0.07056 * POWER(ABS(z), 3))) AS p
FROM tested
ORDER BY figure, cohort, other_cohort;
