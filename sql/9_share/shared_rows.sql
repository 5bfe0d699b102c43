-- One row is a session whose rows may be released, under the codes that stand for its student and device. A TABLE: read several times.
-- Inputs: sessions, shareable_students, shown_traits, pseudonyms, export_choice, limits
-- Grain: session_id
-- Units: week_no in weeks from the student's start; session_no counts the student's sessions in the release
-- Source: ours. Only students whose quasi-identifiers stand the k check, and of them only what may be shown; a device flown by fewer than
-- share_minimum_students of them has no code. is_standard_masked: what would tell the standard is then masked too. last_week_no: the last week that
-- share_minimum_students students of the same cohort, standard and class of device reached (top coding); later weeks are masked, so that nobody
-- stands out by having flown the longest.
CREATE OR REPLACE TABLE shared_rows AS
WITH chosen AS (
    SELECT
        s.session_id,
        s.student_id,
        y.code AS student_code,
        t.cohort,
        t.standard_id,
        t.standard_id IS NULL AS is_standard_masked,
        p.standard_id AS held_standard_id,
        s.device_class,
        s.device_id,
        s.air,
        CASE
            WHEN s.session_date >= p.start_date THEN CAST(DATE_DIFF('day', p.start_date, s.session_date) // 7 + 1 AS INTEGER)
        END AS week_no,
        ROW_NUMBER() OVER (PARTITION BY s.student_id ORDER BY s.session_date, s.started_at, s.session_id) AS session_no
    FROM sessions AS s
    INNER JOIN shareable_students AS p ON s.student_id = p.student_id AND p.left_out_reason IS NULL
    INNER JOIN shown_traits AS t ON s.student_id = t.student_id AND s.device_class = t.device_class
    INNER JOIN pseudonyms AS y ON y.kind = 'student' AND s.student_id = y.id
    CROSS JOIN export_choice AS c
    WHERE
        c.level <> 'cohort'
        AND s.session_date >= COALESCE(c.first_date, s.session_date)
        AND s.session_date <= COALESCE(c.last_date, s.session_date)
),

last_weeks AS (
    SELECT
        student_id,
        cohort,
        standard_id,
        device_class,
        MAX(week_no) AS last_week_no
    FROM chosen
    GROUP BY student_id, cohort, standard_id, device_class
    HAVING MAX(week_no) IS NOT NULL
),

told_weeks AS (
    SELECT
        w.cohort,
        w.standard_id,
        w.device_class,
        w.last_week_no
    FROM last_weeks AS w
    CROSS JOIN limits AS k
    QUALIFY
        ROW_NUMBER() OVER (PARTITION BY w.cohort, w.standard_id, w.device_class ORDER BY w.last_week_no DESC, w.student_id) = k.share_minimum_students
),

device_students AS (
    SELECT
        device_id,
        COUNT(DISTINCT student_id) AS student_count
    FROM chosen
    GROUP BY device_id
)

SELECT
    r.session_id,
    r.student_id,
    r.student_code,
    FORMAT('{}-s{:03d}', r.student_code, r.session_no) AS session_code,
    r.session_no,
    r.cohort,
    r.standard_id,
    r.is_standard_masked,
    r.held_standard_id,
    r.device_class,
    CASE WHEN d.student_count >= k.share_minimum_students THEN y.code END AS device_code,
    r.air,
    CASE WHEN r.week_no <= w.last_week_no THEN r.week_no END AS week_no,
    COALESCE(r.week_no > COALESCE(w.last_week_no, 0), FALSE) AS is_week_masked,
    COALESCE(w.last_week_no, 0) AS last_week_no
FROM chosen AS r
CROSS JOIN limits AS k
LEFT JOIN told_weeks AS w
    ON
        r.cohort IS NOT DISTINCT FROM w.cohort
        AND r.standard_id IS NOT DISTINCT FROM w.standard_id
        AND r.device_class = w.device_class
LEFT JOIN device_students AS d ON r.device_id = d.device_id
LEFT JOIN pseudonyms AS y ON y.kind = 'device' AND r.device_id = y.id;
