-- One row is a session seen against the standard of the student's current stage, in one aspect.
-- A TABLE: read several times.
-- Inputs: maneuver_scores, limits
-- Grain: session_id, aspect
-- Units: tolerance in the row's unit; tolerance_ratio: 1 is the edge of the standard; in_tolerance: share of observed time
-- Source: tolerance_ratio is the geometric mean over the session's scored level maneuvers (ratios multiply; one wild minute must not drown the
-- rest), each floored at flag_ratio_floor; for trim the plain mean (held control changes sign, its logarithm has a long tail).
-- is_consistent takes all level time of the session together: hold95 over that time is within the tolerance, which is to say that
-- at least hold_share of it was; for trim: the mean is within the limit. NULL where no maneuver could be scored, and score_reason says why.
CREATE OR REPLACE TABLE session_scores AS
WITH summed AS (
    SELECT
        session_id,
        student_id,
        aspect,
        MIN(standard_id) AS standard_id,
        MIN(tolerance) FILTER (WHERE tolerance_ratio IS NOT NULL) AS tolerance,
        MIN(unit) FILTER (WHERE tolerance_ratio IS NOT NULL) AS unit,
        COUNT(tolerance_ratio) FILTER (WHERE is_in_figure) AS maneuver_count,
        COUNT(*) FILTER (WHERE is_met AND is_in_figure) AS met_count,
        MIN(basis) FILTER (WHERE is_in_figure AND tolerance_ratio IS NOT NULL) AS basis,
        AVG(LN(GREATEST(tolerance_ratio, k.flag_ratio_floor)) ORDER BY maneuver_id)
        FILTER (WHERE is_in_figure AND tolerance_ratio IS NOT NULL) AS ln_mean,
        AVG(tolerance_ratio ORDER BY maneuver_id) FILTER (WHERE is_in_figure) AS plain_mean,
        SUM(in_tolerance * observed_s ORDER BY maneuver_id) FILTER (WHERE is_in_figure AND tolerance_ratio IS NOT NULL)
        / NULLIF(SUM(observed_s ORDER BY maneuver_id) FILTER (WHERE is_in_figure AND tolerance_ratio IS NOT NULL), 0) AS time_share,
        COUNT(*) FILTER (WHERE is_in_figure AND tolerance_ratio IS NOT NULL AND in_tolerance IS NULL) AS untimed_count,
        MIN(score_reason) FILTER (WHERE is_in_figure) AS score_reason,
        MAX(k.hold_share) AS hold_share
    FROM maneuver_scores
    CROSS JOIN limits AS k
    GROUP BY session_id, student_id, aspect
)

SELECT
    session_id,
    aspect,
    student_id,
    standard_id,
    tolerance,
    unit,
    CASE WHEN aspect = 'trim' THEN plain_mean ELSE EXP(ln_mean) END AS tolerance_ratio,
    CASE
        WHEN maneuver_count = 0 THEN NULL
        WHEN aspect = 'trim' THEN plain_mean <= 1
        WHEN untimed_count = 0 THEN time_share >= hold_share
    END AS is_consistent,
    CASE WHEN aspect <> 'trim' AND untimed_count = 0 THEN time_share END AS in_tolerance,
    maneuver_count,
    met_count,
    basis,
    CASE WHEN maneuver_count = 0 THEN COALESCE(score_reason, 'no level maneuver could be scored') END AS score_reason
FROM summed;
