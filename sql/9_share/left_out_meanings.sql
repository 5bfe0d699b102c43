-- One row is a code for why something is left out of an export, or for being in it, and what it means.
-- Inputs: missing_codes
-- Grain: reason_code
-- Units: none
-- Source: ours; missing_codes, and what can only be said of students ("students who ...")
CREATE OR REPLACE VIEW left_out_meanings AS
SELECT
    reason_code,
    reason_meaning
FROM (
    VALUES
    ('in', 'in the export'),
    ('has_left', 'left the school since, and are in it with what they flew until then'),
    ('refused', 'said no to research'),
    ('not_answered', 'gave no answer about research, where rows of single students need a yes'),
    ('no_session', 'flew no session in the time asked for'),
    ('no_figure', 'flew, but no session or event that counts'),
    ('stands_out', 'share what would be shown with too few others'),
    ('rest', 'each other reason: of fewer students than the minimum, or of none')
) AS rows (reason_code, reason_meaning)
UNION
SELECT
    missing_code AS reason_code,
    missing_meaning AS reason_meaning
FROM missing_codes;
