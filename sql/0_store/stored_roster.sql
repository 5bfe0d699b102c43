-- One row is a line of the school's roster as one batch brought it; history is kept.
-- Inputs: none (files under roster/)
-- Grain: student_id, batch_id
-- Units: dates
-- Source: roster.csv of the inbox
CREATE OR REPLACE VIEW stored_roster AS
SELECT
    student_id,
    cohort,
    start_date,
    stage,
    left_on,
    research_consent,
    row_sha256,
    batch_id
FROM READ_PARQUET('roster/*.parquet');
