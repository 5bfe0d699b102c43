-- One row is the trend over a student's latest sessions as a session saw it: as flown, and again with the devices' effects taken off.
-- A TABLE: the pairs are joined once.
-- Inputs: session_windows, kendall_tails, limits
-- Grain: session_id, aspect, is_adjusted
-- Units: slopes and change_ln in the natural logarithm of tolerance ratio; start_ratio, end_ratio: 1 is the edge of the standard
-- Source: Theil-Sen slope (median of pairwise slopes; intercept median(y) - slope x median(x)) over the last flag_trend_maximum_sessions sessions,
-- exact two-sided Kendall test. The low and high slopes are those that this test, at flag_trend_p, does not refuse (Sen 1968): of the slopes of
-- all N pairs in order, those in place (N - k) / 2 + 1 from either end, k the least score that is significant; ties make it wider.
-- is_rising and is_falling: significant the same way at two sessions running, and the fitted change
-- over the window at least flag_trend_change_ln and flag_trend_change_ratio. Below flag_trend_minimum_sessions test and interval are NULL:
-- with four sessions it cannot reach 0.05.
CREATE OR REPLACE TABLE session_trends AS
WITH points AS (
    SELECT
        w.session_id,
        w.aspect,
        w.is_adjusted,
        w.student_id,
        w.stratum,
        w.session_no,
        -w.ago AS place,
        w.figure
    FROM session_windows AS w
    CROSS JOIN limits AS k
    WHERE w.ago < k.flag_trend_maximum_sessions
),

middles AS (
    SELECT
        session_id,
        aspect,
        is_adjusted,
        ANY_VALUE(student_id) AS student_id,
        ANY_VALUE(stratum) AS stratum,
        ANY_VALUE(session_no) AS session_no,
        COUNT(*) AS sessions,
        MEDIAN(place) AS middle_place,
        MEDIAN(figure) AS middle_figure,
        MIN(place) AS first_place
    FROM points
    GROUP BY session_id, aspect, is_adjusted
),

pairs AS (
    SELECT
        p.session_id,
        p.aspect,
        p.is_adjusted,
        SUM(CAST(SIGN(q.figure - p.figure) AS BIGINT)) AS kendall_s,
        MEDIAN((q.figure - p.figure) / (q.place - p.place)) AS slope,
        LIST_SORT(LIST((q.figure - p.figure) / (q.place - p.place))) AS slopes
    FROM points AS p
    INNER JOIN points AS q
        ON p.session_id = q.session_id AND p.aspect = q.aspect AND p.is_adjusted = q.is_adjusted AND p.place < q.place
    GROUP BY p.session_id, p.aspect, p.is_adjusted
),

least_scores AS (
    SELECT
        t.sessions,
        MIN(t.score) AS score
    FROM kendall_tails AS t
    CROSS JOIN limits AS k
    WHERE
        t.score > 0
        AND t.score % 2 = (t.sessions * (t.sessions - 1) // 2) % 2
        AND t.p_exact <= k.flag_trend_p
        AND t.sessions >= k.flag_trend_minimum_sessions
    GROUP BY t.sessions
),

fitted AS (
    SELECT
        m.session_id,
        m.aspect,
        m.is_adjusted,
        m.student_id,
        m.stratum,
        m.session_no,
        m.sessions,
        CAST(p.kendall_s AS BIGINT) AS kendall_s,
        p.slope,
        p.slopes,
        (LENGTH(p.slopes) - c.score) // 2 + 1 AS outer_place,
        p.slope * (m.sessions - 1) AS change_ln,
        EXP(m.middle_figure + p.slope * (m.first_place - m.middle_place)) AS start_ratio,
        EXP(m.middle_figure + p.slope * (0 - m.middle_place)) AS end_ratio
    FROM middles AS m
    LEFT JOIN pairs AS p ON m.session_id = p.session_id AND m.aspect = p.aspect AND m.is_adjusted = p.is_adjusted
    LEFT JOIN least_scores AS c ON m.sessions = c.sessions
),

tested AS (
    SELECT
        f.session_id,
        f.aspect,
        f.is_adjusted,
        f.student_id,
        f.stratum,
        f.session_no,
        f.sessions,
        f.kendall_s,
        CASE WHEN f.sessions >= k.flag_trend_minimum_sessions THEN t.p_exact END AS p_exact,
        f.slope,
        f.slopes[f.outer_place] AS slope_low,
        f.slopes[LENGTH(f.slopes) + 1 - f.outer_place] AS slope_high,
        f.change_ln,
        f.start_ratio,
        f.end_ratio,
        f.sessions >= k.flag_trend_minimum_sessions AND t.p_exact <= k.flag_trend_p AND f.kendall_s > 0 AS is_up,
        f.sessions >= k.flag_trend_minimum_sessions AND t.p_exact <= k.flag_trend_p AND f.kendall_s < 0 AS is_down,
        ABS(f.change_ln) >= k.flag_trend_change_ln AND ABS(f.end_ratio - f.start_ratio) >= k.flag_trend_change_ratio AS is_large
    FROM fitted AS f
    CROSS JOIN limits AS k
    LEFT JOIN kendall_tails AS t ON f.sessions = t.sessions AND f.kendall_s = t.score
)

SELECT
    session_id,
    aspect,
    is_adjusted,
    student_id,
    stratum,
    session_no,
    sessions AS window_sessions,
    kendall_s,
    p_exact,
    slope AS slope_ln_per_session,
    slope_low AS slope_low_ln_per_session,
    slope_high AS slope_high_ln_per_session,
    change_ln,
    start_ratio,
    end_ratio,
    COALESCE(is_up AND is_large AND LAG(is_up) OVER own AND change_ln > 0, FALSE) AS is_rising,
    COALESCE(is_down AND is_large AND LAG(is_down) OVER own AND change_ln < 0, FALSE) AS is_falling
FROM tested
WINDOW own AS (PARTITION BY student_id, aspect, stratum, is_adjusted ORDER BY session_no)
ORDER BY aspect, student_id, stratum, session_no, is_adjusted;
