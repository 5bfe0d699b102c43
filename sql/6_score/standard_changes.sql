-- One row is a change of the standard that a student is held to: a roster line moved the student to a stage with another standard.
-- Inputs: stored_roster, stage_standards
-- Grain: student_id, changed_on
-- Units: changed_on is the UTC date of the night that read the roster line
-- Source: the roster as it was landed. A student's figures of every date are told against the standard of the student's stage now, so a change
-- re-bases those of before as well: change_reason says so wherever a level or a flag might be read as the student's doing. A stage that changes
-- within one standard changes nothing. A change of the school's own settings re-bases every student at once and is told by the night's report.
CREATE OR REPLACE VIEW standard_changes AS
WITH held AS (
    SELECT
        r.student_id,
        r.stage,
        r.batch_id,
        CAST(STRPTIME(SUBSTRING(r.batch_id, 2, 8), '%Y%m%d') AS DATE) AS changed_on,
        COALESCE(g.standard_id, 'first-lessons') AS standard_id
    FROM stored_roster AS r
    LEFT JOIN stage_standards AS g ON r.stage = g.stage
),

-- of several nights on one date the last one holds
nightly AS (
    SELECT
        student_id,
        stage,
        changed_on,
        standard_id
    FROM held
    QUALIFY ROW_NUMBER() OVER (PARTITION BY student_id, changed_on ORDER BY batch_id DESC) = 1
),

neighbours AS (
    SELECT
        student_id,
        stage,
        changed_on,
        standard_id,
        LAG(standard_id) OVER (PARTITION BY student_id ORDER BY changed_on) AS previous_standard_id
    FROM nightly
)

SELECT
    student_id,
    changed_on,
    stage,
    previous_standard_id,
    standard_id,
    'held to ' || standard_id || ' since ' || STRFTIME(changed_on, '%Y-%m-%d') || ', to ' || previous_standard_id
    || ' before: figures of earlier sessions are told against ' || standard_id || ' too' AS change_reason
FROM neighbours
WHERE standard_id <> previous_standard_id
ORDER BY student_id, changed_on;
