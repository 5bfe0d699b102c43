-- One row is a session after which a student's latest level-offs and power changes were looked at: how many of them were trimmed in time.
-- A TABLE: the windows are joined once.
-- Inputs: followed_events, limits
-- Grain: student_id, session_id
-- Units: shares from 0 to 1, with an 80 % interval; counts in events
-- Source: Kaplan-Meier at settling_limit_s over the last settling_window_events events of the device class (settled or set, whichever came first), unsettled ones
-- censored; Greenwood's interval on the scale of log(-log S), and where none or all were trimmed the exact bound for none or all
-- of those still followed. is_slow: the interval lies wholly below settling_share at two sessions running. It supports what is said of
-- trim and raises no flag: in simulations it was wrong too often where days differ much, and a student off the altitude cannot settle.
CREATE OR REPLACE TABLE settling_shares AS
WITH events AS (
    SELECT
        student_id,
        device_class,
        session_id,
        session_date,
        started_at,
        maneuver_id,
        time_s,
        is_settled,
        ROW_NUMBER() OVER (
            PARTITION BY student_id, device_class
            ORDER BY session_date, started_at, session_id, start_s, maneuver_id
        ) AS event_no
    FROM followed_events
    WHERE figure = 'settled or set'
),

looks AS (
    SELECT
        student_id,
        device_class,
        session_id,
        MIN(session_date) AS session_date,
        MIN(started_at) AS started_at,
        MAX(event_no) AS last_no
    FROM events
    GROUP BY student_id, device_class, session_id
),

moments AS (
    SELECT
        l.student_id,
        l.device_class,
        l.session_id,
        l.session_date,
        l.started_at,
        e.time_s,
        COUNT(*) AS leaving,
        COUNT(*) FILTER (WHERE e.is_settled) AS settled
    FROM looks AS l
    CROSS JOIN limits AS k
    INNER JOIN events AS e
        ON
            l.student_id = e.student_id
            AND l.device_class = e.device_class
            AND e.event_no <= l.last_no
            AND e.event_no > l.last_no - k.settling_window_events
    GROUP BY l.student_id, l.device_class, l.session_id, l.session_date, l.started_at, e.time_s
),

at_risk_counts AS (
    SELECT
        student_id,
        device_class,
        session_id,
        session_date,
        started_at,
        time_s,
        settled,
        leaving,
        CAST(SUM(leaving) OVER (
            PARTITION BY student_id, session_id
            ORDER BY time_s DESC
        ) AS DOUBLE) AS at_risk
    FROM moments
),

summed AS (
    SELECT
        m.student_id,
        m.device_class,
        m.session_id,
        m.session_date,
        m.started_at,
        CAST(SUM(m.leaving) AS BIGINT) AS event_count,
        COALESCE(SUM(m.leaving) FILTER (WHERE m.time_s >= k.settling_limit_s), 0) AS still_followed,
        COALESCE(BOOL_OR(m.at_risk = m.settled) FILTER (WHERE m.time_s <= k.settling_limit_s), FALSE) AS is_all,
        COALESCE(
            SUM(LN(1 - m.settled / m.at_risk) ORDER BY m.time_s)
            FILTER (WHERE m.time_s <= k.settling_limit_s AND m.settled < m.at_risk), 0
        ) AS ln_survival,
        COALESCE(
            SUM(m.settled / (m.at_risk * (m.at_risk - m.settled)) ORDER BY m.time_s)
            FILTER (WHERE m.time_s <= k.settling_limit_s AND m.settled < m.at_risk), 0
        ) AS greenwood_sum,
        k.flag_interval_z AS z,
        1 / (1 + EXP(1.5976 * k.flag_interval_z + 0.07056 * POWER(k.flag_interval_z, 3))) AS tail,
        k.settling_minimum_events,
        k.settling_share
    FROM at_risk_counts AS m
    CROSS JOIN limits AS k
    GROUP BY
        m.student_id,
        m.device_class,
        m.session_id,
        m.session_date,
        m.started_at,
        k.flag_interval_z,
        k.settling_minimum_events,
        k.settling_share
),

shares AS (
    SELECT
        student_id,
        device_class,
        session_id,
        session_date,
        started_at,
        event_count,
        settling_minimum_events,
        settling_share,
        CASE WHEN is_all THEN 1 ELSE 1 - EXP(ln_survival) END AS settled_share,
        CASE
            WHEN is_all THEN POWER(tail, 1.0 / event_count)
            WHEN ln_survival = 0 THEN 0
            ELSE 1 - EXP(ln_survival * EXP(-z * SQRT(greenwood_sum) / ABS(ln_survival)))
        END AS share_low,
        CASE
            WHEN is_all THEN 1
            WHEN ln_survival = 0 THEN 1 - POWER(tail, 1.0 / NULLIF(still_followed, 0))
            ELSE 1 - EXP(ln_survival * EXP(z * SQRT(greenwood_sum) / ABS(ln_survival)))
        END AS share_high
    FROM summed
),

judged AS (
    SELECT
        student_id,
        device_class,
        session_id,
        session_date,
        started_at,
        event_count,
        settled_share,
        share_low,
        share_high,
        COALESCE(event_count >= settling_minimum_events AND share_high < settling_share, FALSE) AS is_below
    FROM shares
)

SELECT
    student_id,
    session_id,
    device_class,
    session_date,
    event_count,
    settled_share,
    share_low,
    share_high,
    is_below,
    is_below AND COALESCE(LAG(is_below) OVER own, FALSE) AS is_slow,
    ROW_NUMBER() OVER (PARTITION BY student_id, device_class ORDER BY session_date DESC, started_at DESC, session_id DESC) = 1 AS is_latest
FROM judged
WINDOW own AS (PARTITION BY student_id, device_class ORDER BY session_date, started_at, session_id)
ORDER BY student_id, session_date, started_at, session_id;
