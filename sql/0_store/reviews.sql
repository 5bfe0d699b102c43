-- One row is an instructor's note: what it is about, the note, when it was made and until when it holds.
-- Inputs: stored_reviews
-- Grain: review_id
-- Units: made_at in UTC; until is a date
-- Source: the school's instructors
CREATE OR REPLACE VIEW reviews AS
SELECT
    review_id,
    kind,
    session_id,
    maneuver_id,
    student_id,
    aspect,
    note,
    made_at,
    until
FROM stored_reviews;
