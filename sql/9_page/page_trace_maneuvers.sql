-- One row is a maneuver whose trace a student's page draws: the latest in level flight, and those that the student's findings rest on.
-- A TABLE: traces are read for these only.
-- Inputs: maneuvers, sessions, students, student_standards, standards, device_neutrals, trim_settling, page_evidence, as_of, limits
-- Grain: maneuver_id
-- Units: start_s, end_s in seconds from the session's start; settle_s, set_s from the maneuver's start; tolerances in ft and deg; neutral in fraction of travel
-- Source: level flight, level-offs and power changes of the latest sessions, page_trace_maneuvers of each student who has not left, and the latest
-- page_trace_evidence of page_evidence; place counts from the latest, and within a session from its start
CREATE OR REPLACE TABLE page_trace_maneuvers AS
WITH tolerances AS (
    SELECT
        standard_id,
        MAX(tolerance) FILTER (WHERE channel = 'altitude') AS altitude_tolerance_ft,
        MAX(tolerance) FILTER (WHERE channel = 'heading') AS heading_tolerance_deg
    FROM standards
    GROUP BY standard_id
),

proving AS (
    SELECT DISTINCT
        e.student_id,
        e.maneuver_id,
        DENSE_RANK() OVER (PARTITION BY e.student_id ORDER BY e.session_date DESC, e.maneuver_id DESC) AS proof_no
    FROM page_evidence AS e
),

numbered AS (
    SELECT
        s.student_id,
        m.maneuver_id,
        m.session_id,
        s.session_date,
        s.device_id,
        m.kind,
        m.basis,
        m.start_s,
        m.end_s,
        m.target_altitude_ft,
        m.target_heading_deg,
        m.is_scored,
        m.not_scored_reason,
        ROW_NUMBER() OVER (
            PARTITION BY s.student_id
            ORDER BY s.session_date DESC, s.started_at DESC, m.session_id DESC, m.start_s, m.maneuver_id
        ) AS place
    FROM maneuvers AS m
    CROSS JOIN as_of AS d
    INNER JOIN sessions AS s ON m.session_id = s.session_id
    INNER JOIN students AS p ON s.student_id = p.student_id
    WHERE
        m.kind IN ('level', 'level_off', 'power_change')
        AND s.session_date <= d.as_of_date
        AND (p.left_on IS NULL OR p.left_on > d.as_of_date)
)

SELECT
    n.student_id,
    n.maneuver_id,
    n.session_id,
    n.session_date,
    n.device_id,
    n.kind,
    n.basis,
    n.start_s,
    n.end_s,
    n.target_altitude_ft,
    n.target_heading_deg,
    n.is_scored,
    n.not_scored_reason,
    n.place,
    n.place <= k.page_trace_maneuvers AS is_latest,
    c.standard_id,
    t.altitude_tolerance_ft,
    t.heading_tolerance_deg,
    v.pitch_neutral,
    g.trim_settle_s AS settle_s,
    g.trim_set_s AS set_s
FROM numbered AS n
CROSS JOIN limits AS k
LEFT JOIN proving AS e ON n.student_id = e.student_id AND n.maneuver_id = e.maneuver_id AND e.proof_no <= k.page_trace_evidence
LEFT JOIN student_standards AS c ON n.student_id = c.student_id
LEFT JOIN tolerances AS t ON c.standard_id = t.standard_id
LEFT JOIN device_neutrals AS v ON n.device_id = v.device_id AND n.session_date = v.session_date
LEFT JOIN trim_settling AS g ON n.maneuver_id = g.maneuver_id
WHERE n.place <= k.page_trace_maneuvers OR e.maneuver_id IS NOT NULL
ORDER BY n.student_id, n.place;
