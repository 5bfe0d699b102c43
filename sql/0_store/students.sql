-- One row is a student as the newest roster line has it.
-- Inputs: stored_roster
-- Grain: student_id
-- Units: dates
-- Source: roster.csv of the inbox, newest line wins
CREATE OR REPLACE VIEW students AS
SELECT
    student_id,
    cohort,
    start_date,
    stage,
    left_on,
    research_consent
FROM stored_roster
QUALIFY ROW_NUMBER() OVER (PARTITION BY student_id ORDER BY batch_id DESC) = 1;
