-- One row is a cell that may not be released. Until disclosure control has judged them (and takes this relation's place) that is every cell.
-- Inputs: cell_members
-- Grain: cell_id
-- Units: none
-- Source: pipeline/export/disclosure.py
CREATE OR REPLACE VIEW withheld_cells AS
SELECT DISTINCT cell_id
FROM cell_members;
