-- One row is how much wider the figures flown on a device are than the same students' figures elsewhere, as it could be told on a session date.
-- A TABLE: the alternation runs once, not at every reading.
-- Inputs: session_figures, pooled_noise, limits
-- Grain: aspect, device_class, session_date, device_id
-- Units: effect_ln in the natural logarithm of tolerance ratio (0.10 is about 10 % wider); counts in sessions and students
-- Source: ours. Students' means and device effects are fitted in turn, flag_device_rounds times, over the sessions of the last
-- flag_device_window_days; an effect is shrunk to nothing by variance / flag_device_sd^2 and centred over the devices of the class. A student
-- who flew one device only says nothing about it: linking_students counts those who flew this device and another one.
CREATE OR REPLACE TABLE device_effects AS
WITH RECURSIVE figures AS (
    SELECT
        f.aspect,
        f.device_class,
        f.session_date,
        f.device_id,
        f.student_id,
        f.session_id,
        f.ln_ratio,
        n.between_variance + n.within_variance / f.maneuver_count + f.neutral_variance AS variance
    FROM session_figures AS f
    INNER JOIN pooled_noise AS n
        ON f.cohort = n.cohort AND f.aspect = n.aspect AND f.stratum = n.stratum AND f.session_date = n.session_date
    WHERE f.is_counted AND f.device_id IS NOT NULL
),

dates AS (
    SELECT DISTINCT
        aspect,
        device_class,
        session_date
    FROM figures
),

cells AS (
    SELECT
        d.aspect,
        d.device_class,
        d.session_date,
        f.student_id,
        f.device_id,
        COUNT(*) AS sessions,
        SUM(f.ln_ratio ORDER BY f.session_id) AS figures,
        SUM(f.variance ORDER BY f.session_id) AS variances,
        COUNT(*) OVER (PARTITION BY d.aspect, d.device_class, d.session_date, f.student_id) > 1 AS is_linking
    FROM dates AS d
    CROSS JOIN limits AS k
    INNER JOIN figures AS f
        ON
            d.aspect = f.aspect
            AND d.device_class = f.device_class
            AND f.session_date <= d.session_date
            AND f.session_date > d.session_date - CAST(k.flag_device_window_days AS INTEGER)
    GROUP BY d.aspect, d.device_class, d.session_date, f.student_id, f.device_id
),

devices_flown AS (
    SELECT
        aspect,
        device_class,
        session_date,
        device_id,
        SUM(sessions) AS sessions,
        COUNT(*) AS students,
        COUNT(*) FILTER (WHERE is_linking) AS linking_students,
        SUM(variances ORDER BY student_id) / SUM(sessions) AS variance
    FROM cells
    GROUP BY aspect, device_class, session_date, device_id
),

alternations AS (
    SELECT
        aspect,
        device_class,
        session_date,
        device_id,
        0.0::DOUBLE AS effect_ln,
        0 AS turn
    FROM devices_flown
    UNION ALL
    (
        WITH centred_cells AS (
            SELECT
                c.aspect,
                c.device_class,
                c.session_date,
                c.device_id,
                c.student_id,
                a.turn,
                c.figures,
                c.sessions,
                SUM(c.figures - c.sessions * a.effect_ln) OVER own / SUM(c.sessions) OVER own AS student_mean
            FROM alternations AS a
            CROSS JOIN limits AS k
            INNER JOIN cells AS c
                ON a.aspect = c.aspect AND a.device_class = c.device_class AND a.session_date = c.session_date AND a.device_id = c.device_id
            WHERE a.turn < k.flag_device_rounds
            WINDOW own AS (
                PARTITION BY c.aspect, c.device_class, c.session_date, c.student_id
                ORDER BY c.device_id
                ROWS BETWEEN UNBOUNDED PRECEDING AND UNBOUNDED FOLLOWING
            )
        ),

        shrunk AS (
            SELECT
                c.aspect,
                c.device_class,
                c.session_date,
                c.device_id,
                c.turn,
                SUM(c.figures - c.sessions * c.student_mean ORDER BY c.student_id)
                / (MAX(f.sessions) + MAX(f.variance) / POWER(MAX(k.flag_device_sd), 2)) AS effect_ln
            FROM centred_cells AS c
            CROSS JOIN limits AS k
            INNER JOIN devices_flown AS f
                ON c.aspect = f.aspect AND c.device_class = f.device_class AND c.session_date = f.session_date AND c.device_id = f.device_id
            GROUP BY c.aspect, c.device_class, c.session_date, c.device_id, c.turn
        )

        SELECT
            aspect,
            device_class,
            session_date,
            device_id,
            effect_ln - AVG(effect_ln) OVER (
                PARTITION BY aspect, device_class, session_date
                ORDER BY device_id
                ROWS BETWEEN UNBOUNDED PRECEDING AND UNBOUNDED FOLLOWING
            ) AS effect_ln,
            turn + 1 AS turn
        FROM shrunk
    )
)

SELECT
    a.aspect,
    a.device_class,
    a.session_date,
    a.device_id,
    a.effect_ln,
    CAST(f.sessions AS BIGINT) AS session_count,
    f.students AS student_count,
    f.linking_students
FROM alternations AS a
CROSS JOIN limits AS k
INNER JOIN devices_flown AS f
    ON a.aspect = f.aspect AND a.device_class = f.device_class AND a.session_date = f.session_date AND a.device_id = f.device_id
WHERE a.turn = k.flag_device_rounds
ORDER BY a.aspect, a.device_class, a.session_date, a.device_id;
