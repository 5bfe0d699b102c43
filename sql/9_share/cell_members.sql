-- One row is a student's part in a cell of any kind: what disclosure control judges.
-- Inputs: week_members, event_members
-- Grain: cell_id, contribution_id
-- Units: none
-- Source: week_members and event_members
CREATE OR REPLACE VIEW cell_members AS
SELECT
    cell_id,
    parent_cell_id,
    student_id,
    contribution_id
FROM week_members
UNION ALL
SELECT
    cell_id,
    parent_cell_id,
    student_id,
    contribution_id
FROM event_members;
