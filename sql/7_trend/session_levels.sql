-- One row is where a student stood after a session, leant toward the cohort, with its standard deviation: as flown, and with devices taken off.
-- Inputs: own_levels, cohort_leans, limits
-- Grain: session_id, aspect, is_adjusted
-- Units: level_ln and level_sd in the natural logarithm of tolerance ratio; z in standard deviations; p_not_met is a probability
-- Source: normal-normal shrinkage, weight true_variance / (true_variance + own_variance), with limited translation (Efron and Morris):
-- the cohort moves nobody further than flag_lean_cap_sd of the student's own standard error. z = level / sd is what is compared with
-- limits; p_not_met = Phi(z) by the logistic form 1 / (1 + exp(-(1.5976 z + 0.07056 z^3))), right to 0.00015.
CREATE OR REPLACE VIEW session_levels AS
WITH leant AS (
    SELECT
        o.session_id,
        o.aspect,
        o.is_adjusted,
        o.student_id,
        o.cohort,
        o.stratum,
        o.session_date,
        o.session_no,
        o.own_ln,
        o.own_variance,
        o.slope_ln_per_session,
        c.student_count AS pool_students,
        c.true_variance / (c.true_variance + o.own_variance) AS own_share,
        c.middle_ln,
        k.flag_lean_cap_sd * SQRT(o.own_variance) AS cap
    FROM own_levels AS o
    CROSS JOIN limits AS k
    INNER JOIN cohort_leans AS c
        ON
            o.cohort = c.cohort
            AND o.aspect = c.aspect
            AND o.stratum = c.stratum
            AND o.session_date = c.session_date
            AND o.is_adjusted = c.is_adjusted
),

levels AS (
    SELECT
        session_id,
        aspect,
        is_adjusted,
        student_id,
        cohort,
        stratum,
        session_date,
        session_no,
        own_ln,
        slope_ln_per_session,
        pool_students,
        own_share,
        own_ln + LEAST(GREATEST((own_share - 1) * (own_ln - middle_ln), -cap), cap) AS level_ln,
        SQRT(own_share * own_variance) AS level_sd
    FROM leant
)

SELECT
    session_id,
    aspect,
    is_adjusted,
    student_id,
    cohort,
    stratum,
    session_date,
    session_no,
    own_ln,
    slope_ln_per_session,
    pool_students,
    own_share,
    level_ln,
    level_sd,
    level_ln / level_sd AS z,
    1 / (1 + EXP(-(1.5976 * level_ln / level_sd + 0.07056 * POWER(level_ln / level_sd, 3)))) AS p_not_met
FROM levels;
