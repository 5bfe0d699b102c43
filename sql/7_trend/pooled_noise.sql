-- One row is how much figures scatter in a cohort, an aspect and a stratum, as it could be told on a session date.
-- Inputs: session_figures, limits
-- Grain: cohort, aspect, stratum, session_date
-- Units: variances of the natural logarithm of tolerance ratios; counts in sessions and differences
-- Source: ours. Within a session: squares about the session's mean. Between sessions: half the squared difference of a student's neighbouring
-- sessions less what the scatter within them explains, so that learning does not count as noise. Both are mixed with
-- defaults worth flag_noise_prior_df observations, which keeps a new school usable.
CREATE OR REPLACE VIEW pooled_noise AS
WITH neighbours AS (
    SELECT
        cohort,
        aspect,
        stratum,
        session_date,
        session_id,
        maneuver_count,
        ln_squares,
        ln_ratio - LAG(ln_ratio) OVER own AS difference,
        1.0::DOUBLE / maneuver_count + 1.0::DOUBLE / LAG(maneuver_count) OVER own AS shares
    FROM session_figures
    WHERE is_counted
    WINDOW own AS (PARTITION BY student_id, aspect, stratum ORDER BY session_no)
),

daily AS (
    SELECT
        cohort,
        aspect,
        stratum,
        session_date,
        SUM(ln_squares ORDER BY session_id) AS squares,
        SUM(maneuver_count - 1) AS squares_df,
        COALESCE(SUM(difference * difference / 2 ORDER BY session_id), 0) AS half_differences,
        COALESCE(SUM(shares / 2 ORDER BY session_id), 0) AS half_shares,
        COUNT(difference) AS differences,
        COUNT(*) AS sessions
    FROM neighbours
    GROUP BY cohort, aspect, stratum, session_date
),

so_far AS (
    SELECT
        cohort,
        aspect,
        stratum,
        session_date,
        SUM(squares) OVER dated AS squares,
        SUM(squares_df) OVER dated AS squares_df,
        SUM(half_differences) OVER dated AS half_differences,
        SUM(half_shares) OVER dated AS half_shares,
        SUM(differences) OVER dated AS differences,
        SUM(sessions) OVER dated AS sessions
    FROM daily
    WINDOW dated AS (PARTITION BY cohort, aspect, stratum ORDER BY session_date)
),

within_sessions AS (
    SELECT
        f.cohort,
        f.aspect,
        f.stratum,
        f.session_date,
        CASE
            WHEN f.aspect = 'trim' THEN 0
            ELSE (k.flag_noise_prior_df * k.flag_within_prior + f.squares) / (k.flag_noise_prior_df + f.squares_df)
        END AS within_variance,
        CASE WHEN f.aspect = 'trim' THEN k.flag_trim_between_prior ELSE k.flag_between_prior END AS between_prior,
        k.flag_noise_prior_df AS prior_df,
        k.flag_between_floor AS between_floor,
        f.half_differences,
        f.half_shares,
        f.differences,
        f.sessions
    FROM so_far AS f
    CROSS JOIN limits AS k
)

SELECT
    cohort,
    aspect,
    stratum,
    session_date,
    within_variance,
    GREATEST(
        between_floor,
        (prior_df * between_prior + half_differences - within_variance * half_shares) / (prior_df + differences)
    ) AS between_variance,
    CAST(sessions AS BIGINT) AS session_count,
    CAST(differences AS BIGINT) AS difference_count
FROM within_sessions;
