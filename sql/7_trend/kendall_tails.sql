-- One row is the exact chance, without a trend, of a Kendall score at least as far from zero, for a number of sessions.
-- A TABLE: the counting runs once.
-- Inputs: limits
-- Grain: sessions, score
-- Units: score counts rising less falling pairs; p_exact is a two-sided probability
-- Source: Kendall's exact distribution without ties, counted through inversions of permutations; with
-- ties (scores between the possible ones) it errs on the careful side. Counts of orders are whole numbers, so sums are exact.
CREATE OR REPLACE TABLE kendall_tails AS
WITH RECURSIVE inversions AS (
    SELECT
        1 AS sessions,
        0::BIGINT AS inversions,
        1.0::DOUBLE AS orders
    UNION ALL
    (
        WITH placed AS (
            SELECT
                i.sessions + 1 AS sessions,
                i.inversions + UNNEST(RANGE(i.sessions + 1)) AS inversions,
                i.orders
            FROM inversions AS i
            CROSS JOIN limits AS k
            WHERE i.sessions < k.flag_trend_maximum_sessions
        )

        SELECT
            sessions,
            inversions,
            SUM(orders) AS orders
        FROM placed
        GROUP BY sessions, inversions
    )
),

counted AS (
    SELECT
        sessions,
        CAST(sessions * (sessions - 1) / 2 - 2 * inversions AS BIGINT) AS score,
        orders,
        SUM(orders) OVER (PARTITION BY sessions) AS all_orders
    FROM inversions
),

scores AS (
    SELECT
        sessions,
        UNNEST(RANGE(-MAX(score), MAX(score) + 1)) AS score
    FROM counted
    GROUP BY sessions
)

SELECT
    s.sessions,
    s.score,
    SUM(o.orders) / MAX(o.all_orders) AS p_exact
FROM scores AS s
INNER JOIN counted AS o ON s.sessions = o.sessions AND ABS(o.score) >= ABS(s.score)
GROUP BY s.sessions, s.score
ORDER BY s.sessions, s.score;
