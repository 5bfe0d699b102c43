-- One row is a power law of learning through a student's sessions up to the date asked for: how steeply figures fell with practice.
-- A TABLE: forecasts read it several times.
-- Inputs: current_levels, session_windows
-- Grain: student_id, aspect, stratum
-- Units: own_exponent in ln ratio per ln session number, + narrower with practice; weights in 1 / ln ratio squared
-- Source: weighted least squares of ln ratio on ln(sessions so far / session number) over the window, weights 1 / variance. The power law of
-- practice is customary; that it holds here is an assumption. With one session the slope is NULL.
CREATE OR REPLACE TABLE learning_fits AS
WITH points AS (
    SELECT
        c.student_id,
        c.aspect,
        c.stratum,
        c.cohort,
        c.session_no,
        w.ago,
        w.figure,
        1 / w.variance AS weight,
        LN(CAST(c.session_no AS DOUBLE) / (c.session_no - w.ago)) AS practice
    FROM current_levels AS c
    INNER JOIN session_windows AS w ON c.session_id = w.session_id AND c.aspect = w.aspect AND NOT w.is_adjusted
),

sums AS (
    SELECT
        student_id,
        aspect,
        stratum,
        cohort,
        session_no,
        SUM(weight ORDER BY ago) AS weights,
        SUM(weight * practice ORDER BY ago) AS practices,
        SUM(weight * practice * practice ORDER BY ago) AS practice_squares,
        SUM(weight * figure ORDER BY ago) AS figures,
        SUM(weight * practice * figure ORDER BY ago) AS products
    FROM points
    GROUP BY student_id, aspect, stratum, cohort, session_no
)

SELECT
    student_id,
    aspect,
    stratum,
    cohort,
    session_no,
    weights,
    practices,
    practice_squares,
    products,
    figures,
    CASE
        WHEN session_no > 1
            THEN (products - practices * figures / weights) / (practice_squares - practices * practices / weights)
    END AS own_exponent,
    CASE WHEN session_no > 1 THEN 1 / (practice_squares - practices * practices / weights) END AS exponent_variance
FROM sums
ORDER BY student_id, aspect, stratum;
