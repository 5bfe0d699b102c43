-- One row is two cohorts and an aspect in which they cannot be compared: no student of one flies against a standard, in a device class, that one of the other does.
-- Inputs: current_levels, cohort_differences, limits
-- Grain: aspect, cohort, other_cohort
-- Units: none
-- Source: the standards and device classes in which students of each cohort stand now, with flag_minimum_sessions or more; pairs that share one are told in
-- cohort_differences. The limit for trim is one for all: there only the device class can part them, and standards are NULL
CREATE OR REPLACE VIEW page_cohort_pairs AS
WITH held_to AS (
    SELECT
        c.aspect,
        c.cohort,
        LIST(DISTINCT c.standard_id ORDER BY c.standard_id) FILTER (WHERE c.aspect <> 'trim') AS standards
    FROM current_levels AS c
    CROSS JOIN limits AS k
    WHERE c.session_no >= k.flag_minimum_sessions
    GROUP BY c.aspect, c.cohort
)

SELECT
    a.aspect,
    a.cohort,
    b.cohort AS other_cohort,
    ARRAY_TO_STRING(a.standards, ', ') AS standards,
    ARRAY_TO_STRING(b.standards, ', ') AS other_standards,
    CASE
        WHEN a.standards IS NULL OR LIST_HAS_ANY(a.standards, b.standards) THEN 'no shared device class'
        ELSE 'no shared standard'
    END AS pair_reason
FROM held_to AS a
INNER JOIN held_to AS b ON a.aspect = b.aspect AND a.cohort < b.cohort
ANTI JOIN cohort_differences AS d ON a.aspect = d.aspect AND a.cohort = d.cohort AND b.cohort = d.other_cohort
ORDER BY a.aspect, a.cohort, b.cohort;
