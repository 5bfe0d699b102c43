-- One row is how a group of students flew in one week since they started, or in one session by number: middle, quartiles, and how many met the standard.
-- A TABLE: charts and cohort_trends read it.
-- Inputs: session_figures, sessions, students, limits
-- Grain: grouping, group_value, device_class, aspect, axis, step
-- Units: median, q1, q3 of tolerance ratios: 1 is the edge of each student's standard; shares from 0 to 1; step in weeks or sessions, from 1
-- Source: every student counts once in a cell, with the geometric mean of the student's sessions in it. met_share: students whose figure is within
-- the standard, with a Wilson score interval of 95 % (Wilson 1927; no continuity correction). grouping is cohort, stage, lesson, device
-- or, where show_instructors is 1, instructor. Small cells are shown with their counts; an export suppresses them. standards: all that the group's
-- students are held to in the aspect and device class; groups whose standards differ are not to be compared. NULL for trim, whose limit is one for all.
CREATE OR REPLACE TABLE group_curves AS
WITH flown AS (
    SELECT
        f.session_id,
        f.aspect,
        f.student_id,
        f.device_class,
        f.ln_ratio,
        f.standard_id,
        f.cohort,
        p.stage,
        s.lesson,
        f.device_id,
        CASE WHEN k.show_instructors = 1 THEN s.instructor_id END AS instructor_id,
        CAST(FLOOR(DATE_DIFF('day', COALESCE(p.start_date, MIN(f.session_date) OVER (PARTITION BY f.student_id)), f.session_date) / 7.0) AS BIGINT) + 1 AS week,
        f.session_no
    FROM session_figures AS f
    CROSS JOIN limits AS k
    INNER JOIN sessions AS s ON f.session_id = s.session_id
    LEFT JOIN students AS p ON f.student_id = p.student_id
    WHERE f.is_counted
),

grouped AS (
    SELECT
        f.student_id,
        f.device_class,
        f.aspect,
        f.session_id,
        f.standard_id,
        f.ln_ratio,
        f.week,
        f.session_no,
        g.grouping,
        CASE g.grouping
            WHEN 'cohort' THEN f.cohort
            WHEN 'stage' THEN f.stage
            WHEN 'lesson' THEN f.lesson
            WHEN 'device' THEN f.device_id
            WHEN 'instructor' THEN f.instructor_id
        END AS group_value
    FROM flown AS f
    CROSS JOIN (VALUES ('cohort'), ('stage'), ('lesson'), ('device'), ('instructor')) AS g (grouping)
),

student_cells AS (
    SELECT
        f.grouping,
        f.group_value,
        f.device_class,
        f.aspect,
        a.axis,
        CASE a.axis WHEN 'week' THEN f.week ELSE f.session_no END AS step,
        f.student_id,
        AVG(f.ln_ratio ORDER BY f.session_id) AS figure
    FROM grouped AS f
    CROSS JOIN (VALUES ('week'), ('session')) AS a (axis)
    WHERE f.group_value IS NOT NULL
    GROUP BY f.grouping, f.group_value, f.device_class, f.aspect, a.axis, step, f.student_id
),

cells AS (
    SELECT
        grouping,
        group_value,
        device_class,
        aspect,
        axis,
        step,
        EXP(MEDIAN(figure)) AS median,
        EXP(QUANTILE_CONT(figure, 0.25)) AS q1,
        EXP(QUANTILE_CONT(figure, 0.75)) AS q3,
        CAST(COUNT(*) AS DOUBLE) AS n,
        COUNT(*) FILTER (WHERE figure <= 0) AS met,
        COUNT(*) FILTER (WHERE figure <= 0) / CAST(COUNT(*) AS DOUBLE) AS share
    FROM student_cells
    GROUP BY grouping, group_value, device_class, aspect, axis, step
),

held_to AS (
    SELECT
        grouping,
        group_value,
        device_class,
        aspect,
        STRING_AGG(DISTINCT standard_id, ', ' ORDER BY standard_id) FILTER (WHERE aspect <> 'trim') AS standards
    FROM grouped
    WHERE group_value IS NOT NULL
    GROUP BY grouping, group_value, device_class, aspect
),

w AS (SELECT POWER(flag_wide_interval_z, 2) AS z2 FROM limits)

SELECT
    c.grouping,
    c.group_value,
    c.device_class,
    c.aspect,
    c.axis,
    c.step,
    c.median,
    c.q1,
    c.q3,
    CAST(c.n AS BIGINT) AS student_count,
    c.met AS met_students,
    c.share AS met_share,
    GREATEST(0, (c.share + w.z2 / (2 * c.n) - SQRT(w.z2 * (c.share * (1 - c.share) + w.z2 / (4 * c.n)) / c.n)) / (1 + w.z2 / c.n)) AS met_low,
    LEAST(1, (c.share + w.z2 / (2 * c.n) + SQRT(w.z2 * (c.share * (1 - c.share) + w.z2 / (4 * c.n)) / c.n)) / (1 + w.z2 / c.n)) AS met_high,
    h.standards
FROM cells AS c
CROSS JOIN w
INNER JOIN held_to AS h
    ON c.grouping = h.grouping AND c.group_value = h.group_value AND c.device_class = h.device_class AND c.aspect = h.aspect
ORDER BY c.grouping, c.group_value, c.device_class, c.aspect, c.axis, c.step;
