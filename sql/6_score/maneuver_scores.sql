-- One row is a scored level maneuver seen against the standard of the student's current stage, in one aspect.
-- A TABLE: all above reads it several times, and what it rests on is dear.
-- Inputs: maneuvers, sessions, student_standards, standards, limits, altitude_hold, heading_hold, tolerance_excursions, held_control, reviews
-- Grain: maneuver_id, aspect
-- Units: tolerance in the unit of the row (ft, deg, fraction of travel, N); tolerance_ratio: 1 is the edge of the standard; observed_s in s
-- Source: tolerance_ratio is hold95 over the tolerance (the form in which flight technical error is stated), for trim |held_control|
-- over untrimmed_limit, or with a free control the held force over untrimmed_force_n. Met: no excursion beyond twice the tolerance
-- and none longer than promptly_s, as seen within the maneuver (exceeding consistently, or not correcting promptly, is what
-- examiners' standards call unsatisfactory); for trim: not is_untrimmed. Where a figure is NULL, score_reason says why: no tolerance
-- for the channel, a channel missing, a maneuver set aside by an instructor. is_in_figure is false for a maneuver found in the log
-- of a session that has assigned ones: the two are never pooled.
CREATE OR REPLACE TABLE maneuver_scores AS
WITH scored_levels AS (
    SELECT
        m.maneuver_id,
        m.session_id,
        s.student_id,
        m.basis,
        m.observed_s,
        p.standard_id,
        m.basis = 'assigned' OR NOT BOOL_OR(m.basis = 'assigned') OVER (PARTITION BY m.session_id) AS is_in_figure,
        m.is_scored
    FROM maneuvers AS m
    INNER JOIN sessions AS s ON m.session_id = s.session_id
    LEFT JOIN student_standards AS p ON s.student_id = p.student_id
    WHERE m.kind = 'level'
),

notes AS (
    SELECT
        maneuver_id,
        session_id,
        aspect,
        'set aside by an instructor' || COALESCE(': ' || note, '') AS note_reason
    FROM reviews
    WHERE kind = 'set-aside'
),

set_aside AS (
    SELECT
        l.maneuver_id,
        a.aspect,
        MIN(n.note_reason) AS note_reason
    FROM scored_levels AS l
    CROSS JOIN (VALUES ('altitude'), ('heading'), ('trim')) AS a (aspect)
    INNER JOIN notes AS n
        ON
            (n.maneuver_id = l.maneuver_id OR (n.maneuver_id IS NULL AND n.session_id = l.session_id))
            AND (n.aspect IS NULL OR n.aspect = a.aspect)
    GROUP BY l.maneuver_id, a.aspect
),

figures AS (
    SELECT
        maneuver_id,
        'altitude' AS aspect,
        altitude_hold95_ft AS held,
        NULL AS held_limit,
        'ft' AS unit,
        altitude_hold_reason AS figure_reason,
        CAST(NULL AS BOOLEAN) AS is_untrimmed
    FROM altitude_hold
    UNION ALL
    SELECT
        maneuver_id,
        'heading' AS aspect,
        heading_hold95_deg AS held,
        NULL AS held_limit,
        'deg' AS unit,
        heading_hold_reason AS figure_reason,
        CAST(NULL AS BOOLEAN) AS is_untrimmed
    FROM heading_hold
    UNION ALL
    SELECT
        maneuver_id,
        'trim' AS aspect,
        COALESCE(ABS(h.held_control), ABS(h.held_force_n)) AS held,
        CASE WHEN h.held_control IS NULL AND h.held_force_n IS NOT NULL THEN k.untrimmed_force_n ELSE k.untrimmed_limit END AS held_limit,
        CASE WHEN h.held_control IS NULL AND h.held_force_n IS NOT NULL THEN 'N' ELSE 'of travel' END AS unit,
        CASE WHEN h.is_untrimmed IS NULL THEN h.held_control_reason END AS figure_reason,
        h.is_untrimmed
    FROM held_control AS h
    CROSS JOIN limits AS k
),

tolerances AS (
    SELECT
        standard_id,
        channel AS aspect,
        tolerance
    FROM standards
    WHERE channel IN ('altitude', 'heading')
),

judged AS (
    SELECT
        l.maneuver_id,
        a.aspect,
        l.session_id,
        l.student_id,
        l.basis,
        l.observed_s,
        l.is_in_figure,
        CASE WHEN a.aspect <> 'trim' THEN l.standard_id END AS standard_id,
        CASE WHEN a.aspect = 'trim' THEN f.held_limit ELSE t.tolerance END AS tolerance,
        f.unit,
        f.held,
        f.is_untrimmed,
        x.in_tolerance,
        x.excursions_2x = 0 AND COALESCE(x.longest_out_s, 0) <= k.promptly_s AS is_within,
        x.excursions_reason,
        CASE
            WHEN n.note_reason IS NOT NULL THEN n.note_reason
            WHEN a.aspect <> 'trim' AND t.tolerance IS NULL
                THEN 'the standard ' || COALESCE(l.standard_id, '(none)') || ' has no tolerance for ' || a.aspect
            WHEN f.held IS NULL OR f.figure_reason IS NOT NULL THEN COALESCE(f.figure_reason, 'not measured')
        END AS score_reason
    FROM scored_levels AS l
    CROSS JOIN limits AS k
    CROSS JOIN (VALUES ('altitude'), ('heading'), ('trim')) AS a (aspect)
    LEFT JOIN figures AS f ON l.maneuver_id = f.maneuver_id AND a.aspect = f.aspect
    LEFT JOIN tolerances AS t ON l.standard_id = t.standard_id AND a.aspect = t.aspect
    LEFT JOIN tolerance_excursions AS x ON l.maneuver_id = x.maneuver_id AND a.aspect = x.channel AND t.tolerance = x.tolerance
    LEFT JOIN set_aside AS n ON l.maneuver_id = n.maneuver_id AND a.aspect = n.aspect
    WHERE l.is_scored
)

SELECT
    maneuver_id,
    aspect,
    session_id,
    student_id,
    basis,
    standard_id,
    tolerance,
    unit,
    CASE WHEN score_reason IS NULL THEN held / NULLIF(tolerance, 0) END AS tolerance_ratio,
    CASE
        WHEN score_reason IS NOT NULL THEN NULL
        WHEN aspect = 'trim' THEN NOT is_untrimmed
        ELSE is_within
    END AS is_met,
    CASE WHEN score_reason IS NULL AND aspect <> 'trim' THEN in_tolerance END AS in_tolerance,
    observed_s,
    is_in_figure,
    score_reason,
    CASE
        WHEN score_reason IS NOT NULL THEN score_reason
        WHEN aspect <> 'trim' AND is_within IS NULL THEN COALESCE(excursions_reason, 'excursions were not measured')
    END AS met_reason
FROM judged;
