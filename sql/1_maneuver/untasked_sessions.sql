-- One row is a session of which tasks leave a stretch open that is long enough to search for maneuvers.
-- Inputs: open_stretches, limits
-- Grain: session_id, revision
-- Units: open_s in seconds: the longest stretch without a task
-- Source: ours
CREATE OR REPLACE VIEW untasked_sessions AS
SELECT
    o.session_id,
    o.revision,
    MAX(o.end_s - o.start_s) AS open_s
FROM open_stretches AS o
CROSS JOIN limits AS l
GROUP BY o.session_id, o.revision, l.inferred_untasked_s
HAVING MAX(o.end_s - o.start_s) >= l.inferred_untasked_s;
