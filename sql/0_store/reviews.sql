-- One row is an instructor's note that holds: what it is about, the note, when it was made and until when it holds.
-- Inputs: stored_reviews
-- Grain: review_id
-- Units: made_at in UTC; until is a date
-- Source: the school's instructors. A note that was taken back (kind undo-...) since it was made is left out, as is the taking back
CREATE OR REPLACE VIEW reviews AS
WITH taken_back AS (
    SELECT
        REPLACE(kind, 'undo-', '') AS kind,
        session_id,
        maneuver_id,
        MAX(made_at) AS undone_at
    FROM stored_reviews
    WHERE kind LIKE 'undo-%'
    GROUP BY ALL
)

SELECT
    r.review_id,
    r.kind,
    r.session_id,
    r.maneuver_id,
    r.student_id,
    r.aspect,
    r.note,
    r.made_at,
    r.until
FROM stored_reviews AS r
LEFT JOIN taken_back AS u
    ON
        r.kind = u.kind
        AND r.session_id IS NOT DISTINCT FROM u.session_id
        AND r.maneuver_id IS NOT DISTINCT FROM u.maneuver_id
WHERE r.kind NOT LIKE 'undo-%' AND (u.undone_at IS NULL OR r.made_at > u.undone_at);
