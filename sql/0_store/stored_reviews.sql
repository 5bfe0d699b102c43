-- One row is an instructor's note as it was stored: a flag acknowledged, a maneuver set aside, a session withdrawn or reassigned.
-- Inputs: none (files under reviews/)
-- Grain: review_id
-- Units: made_at in UTC; until is a date
-- Source: the school's instructors
CREATE OR REPLACE VIEW stored_reviews AS
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
FROM READ_PARQUET('reviews/*.parquet');
