-- One row is a climb or a descent that was found in a log. A TABLE: read several times.
-- Inputs: slow_motions, session_seconds, limits
-- Grain: session_id, revision, start_no
-- Units: start_no and end_no in whole seconds from the session's start; change_ft and kept_ft in feet; power_change in fractions of full power
-- Source: ours. A run of slow vertical speed of one sign, beyond half of inferred_rate_fpm throughout, that reaches inferred_rate_fpm; from the second in which
-- it first has half of its greatest rate to the one in which it last does. It was meant where power is as far from level flight as inferred_climb_power
-- asks and the change inferred_climb_ft or more (a change at constant power is a wander: FAA Instrument Flying Handbook, on attitude flying); where power
-- was not logged, where the change is inferred_climb_alone_ft or more, and two thirds of that kept; in any case from inferred_climb_surely_ft on. Power of level
-- flight: mean of the medians of 30 to 5 s before and of 10 to 40 s after.
CREATE OR REPLACE TABLE found_climbs AS
WITH signed AS (
    SELECT
        m.session_id,
        m.revision,
        m.stretch_no,
        m.second_no,
        m.climb_fpm,
        CASE WHEN ABS(m.climb_fpm) > l.inferred_rate_fpm / 2 THEN SIGN(m.climb_fpm) ELSE 0 END AS direction
    FROM slow_motions AS m
    CROSS JOIN limits AS l
),

turned AS (
    SELECT
        *,
        COALESCE(
            direction <> LAG(direction) OVER ()
            OR stretch_no <> LAG(stretch_no) OVER ()
            OR session_id <> LAG(session_id) OVER ()
            OR revision <> LAG(revision) OVER (),
            TRUE
        ) AS is_begun
    FROM signed
),

numbered AS (
    SELECT
        *,
        SUM(CASE WHEN is_begun THEN 1 ELSE 0 END) OVER (ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW) AS run_no
    FROM turned
),

peaks AS (
    SELECT
        *,
        MAX(ABS(climb_fpm)) OVER (PARTITION BY run_no) AS peak_fpm
    FROM numbered
    WHERE direction <> 0
),

runs AS (
    SELECT
        p.session_id,
        p.revision,
        p.stretch_no,
        p.direction,
        p.peak_fpm,
        MIN(p.second_no) AS start_no,
        MAX(p.second_no) AS end_no
    FROM peaks AS p
    CROSS JOIN limits AS l
    WHERE p.peak_fpm >= l.inferred_rate_fpm AND ABS(p.climb_fpm) >= p.peak_fpm / 2
    GROUP BY p.session_id, p.revision, p.run_no, p.stretch_no, p.direction, p.peak_fpm
),

surroundings AS (
    SELECT
        r.session_id,
        r.revision,
        r.stretch_no,
        r.direction,
        r.peak_fpm,
        r.start_no,
        r.end_no,
        AVG(s.altitude_ft) FILTER (WHERE s.second_no BETWEEN r.start_no - 2 AND r.start_no + 2) AS start_ft,
        AVG(s.altitude_ft) FILTER (WHERE s.second_no BETWEEN r.end_no - 2 AND r.end_no + 2) AS end_ft,
        MEDIAN(s.altitude_ft) FILTER (WHERE s.second_no < r.start_no) AS before_ft,
        MEDIAN(s.altitude_ft) FILTER (WHERE s.second_no > r.end_no + 10) AS after_ft,
        AVG(s.power) FILTER (WHERE s.second_no BETWEEN r.start_no AND r.end_no) AS power_within,
        MEDIAN(s.power) FILTER (WHERE s.second_no BETWEEN r.start_no - 30 AND r.start_no - 5) AS power_before,
        MEDIAN(s.power) FILTER (WHERE s.second_no BETWEEN r.end_no + 10 AND r.end_no + 40) AS power_after
    FROM runs AS r
    INNER JOIN session_seconds AS s
        ON
            r.session_id = s.session_id AND r.revision = s.revision AND r.stretch_no = s.stretch_no
            AND s.second_no BETWEEN r.start_no - 60 AND r.end_no + 70
    GROUP BY r.session_id, r.revision, r.stretch_no, r.direction, r.peak_fpm, r.start_no, r.end_no
),

judged AS (
    SELECT
        session_id,
        revision,
        stretch_no,
        start_no,
        end_no,
        direction,
        direction * (end_ft - start_ft) AS change_ft,
        direction * (after_ft - before_ft) AS kept_ft,
        after_ft,
        end_ft,
        direction * (
            power_within - (COALESCE(power_before, power_after) + COALESCE(power_after, power_before)) / 2
        ) AS power_change
    FROM surroundings
)

SELECT
    j.session_id,
    j.revision,
    j.stretch_no,
    j.start_no,
    j.end_no,
    CASE WHEN j.direction > 0 THEN 'climb' ELSE 'descent' END AS kind,
    j.change_ft,
    j.kept_ft,
    COALESCE(j.after_ft, j.end_ft) AS settled_ft,
    j.power_change
FROM judged AS j
CROSS JOIN limits AS l
WHERE
    (j.power_change >= l.inferred_climb_power AND j.change_ft >= l.inferred_climb_ft)
    OR (
        j.power_change IS NULL
        AND j.change_ft >= l.inferred_climb_alone_ft
        AND COALESCE(j.kept_ft, j.change_ft) >= 2 * l.inferred_climb_alone_ft / 3
    )
    OR j.change_ft >= l.inferred_climb_surely_ft;
