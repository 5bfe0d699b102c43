-- One row is a cohort and how soon half of its level-offs and power changes were trimmed, unsettled ones counted as what they are: longer.
-- Inputs: settling_curves
-- Grain: cohort, figure
-- Units: median_s, median_low_s, median_high_s and restricted_mean_s in seconds; counts in events and students; settled_share of all events
-- Source: first moment at which the Kaplan-Meier curve (its interval's ends for the interval; Brookmeyer and Crowley) is at or below one half; NULL
-- where it never is. restricted_mean_s is the area under the curve up to its last moment, followed_s. The mean of the settled ones alone, or of
-- all times as if each were a settling, would be far too short.
CREATE OR REPLACE VIEW settling_medians AS
WITH steps AS (
    SELECT
        cohort,
        figure,
        device_class,
        time_s,
        at_risk,
        settled,
        censored,
        survival,
        low,
        high,
        student_count,
        LEAD(time_s) OVER (PARTITION BY cohort, figure ORDER BY time_s) AS next_s
    FROM settling_curves
)

SELECT
    cohort,
    figure,
    ANY_VALUE(device_class) AS device_class,
    MAX(at_risk) AS event_count,
    CAST(SUM(settled) AS BIGINT) AS settled,
    MAX(student_count) AS student_count,
    MIN(time_s) FILTER (WHERE survival <= 0.5) AS median_s,
    MIN(time_s) FILTER (WHERE low <= 0.5) AS median_low_s,
    MIN(time_s) FILTER (WHERE high <= 0.5) AS median_high_s,
    SUM(survival * (next_s - time_s) ORDER BY time_s) AS restricted_mean_s,
    MAX(time_s) AS followed_s
FROM steps
GROUP BY cohort, figure
ORDER BY cohort, figure;
