-- One row is an instructor's note that holds: what it is about, the note, when it was made and until when it holds. A TABLE: sessions and
-- maneuvers read it many times.
-- Inputs: stored_reviews, stored_sessions, stored_tasks, limits
-- Grain: review_id
-- Units: made_at in UTC; until is a date
-- Source: the school's instructors. A note that was taken back (kind undo-...) since it was made is left out, as is the taking back. A note
-- about a maneuver whose session was delivered anew goes over to the same task of the newest revision, whatever its number there: the same
-- kind, targets and flyer, and ends no further off than clipping to a log may move them. A note about a maneuver that was found in the log goes
-- over where log and tasks are the same. Else it holds no longer: lapsed_reason says why, and the old code stays
CREATE OR REPLACE TABLE reviews AS
WITH revisions AS (
    SELECT
        session_id,
        revision,
        log_sha256,
        tasks_sha256,
        revision = MAX(revision) OVER (PARTITION BY session_id) AS is_newest
    FROM stored_sessions
    QUALIFY ROW_NUMBER() OVER (PARTITION BY session_id, revision ORDER BY batch_id DESC) = 1
),

coded AS (
    SELECT
        review_id,
        REGEXP_EXTRACT(maneuver_id, '^(.+)[.]\d+[.]i?\d+(-\d+)?$', 1) AS session_id,
        TRY_CAST(REGEXP_EXTRACT(maneuver_id, '[.](\d+)[.]i?\d+(-\d+)?$', 1) AS INTEGER) AS revision,
        TRY_CAST(REGEXP_EXTRACT(maneuver_id, '[.]i?(\d+)(-\d+)?$', 1) AS INTEGER) AS task_no,
        REGEXP_EXTRACT(maneuver_id, '-\d+$') AS part,
        REGEXP_MATCHES(maneuver_id, '[.]i\d+(-\d+)?$') AS is_found
    FROM stored_reviews
    WHERE maneuver_id IS NOT NULL
),

outdated AS (
    SELECT
        c.review_id,
        c.session_id,
        c.task_no,
        c.part,
        c.is_found,
        o.revision AS old_revision,
        n.revision AS new_revision,
        o.log_sha256 = n.log_sha256 AS is_same_log,
        COALESCE(o.tasks_sha256, '') = COALESCE(n.tasks_sha256, '') AS is_same_tasks
    FROM coded AS c
    INNER JOIN revisions AS o ON c.session_id = o.session_id AND c.revision = o.revision
    INNER JOIN revisions AS n ON c.session_id = n.session_id
    WHERE n.is_newest AND NOT o.is_newest
),

same_tasks AS (
    SELECT
        d.review_id,
        n.task_no
    FROM outdated AS d
    CROSS JOIN limits AS l
    INNER JOIN stored_tasks AS o ON d.session_id = o.session_id AND d.old_revision = o.revision AND d.task_no = o.task_no
    INNER JOIN stored_tasks AS n
        ON
            d.session_id = n.session_id AND d.new_revision = n.revision
            AND o.kind = n.kind AND o.flown_by = n.flown_by
            AND o.target_altitude_ft IS NOT DISTINCT FROM n.target_altitude_ft
            AND o.target_heading_deg IS NOT DISTINCT FROM n.target_heading_deg
            AND ABS(o.start_s - n.start_s) <= l.task_clip_s AND ABS(o.end_s - n.end_s) <= l.task_clip_s
    WHERE NOT d.is_found AND (d.part = '' OR d.is_same_log)
    QUALIFY ROW_NUMBER() OVER (PARTITION BY d.review_id ORDER BY ABS(o.start_s - n.start_s), n.task_no) = 1
),

carried AS (
    SELECT
        d.review_id,
        CASE
            WHEN t.task_no IS NOT NULL THEN FORMAT('{}.{}.{:02d}{}', d.session_id, d.new_revision, t.task_no, d.part)
            WHEN d.is_found AND d.is_same_log AND d.is_same_tasks
                THEN FORMAT('{}.{}.i{:02d}{}', d.session_id, d.new_revision, d.task_no, d.part)
        END AS maneuver_id,
        CASE
            WHEN d.is_found THEN FORMAT('revision {} of the session came with another log or other tasks', d.new_revision)
            WHEN d.part <> '' THEN FORMAT('revision {} of the session came with another log, or without that task', d.new_revision)
            ELSE FORMAT('revision {} of the session has no such task any more', d.new_revision)
        END AS lapsed_reason
    FROM outdated AS d
    LEFT JOIN same_tasks AS t ON d.review_id = t.review_id
),

placed AS (
    SELECT
        r.review_id,
        r.kind,
        r.session_id,
        COALESCE(c.maneuver_id, r.maneuver_id) AS maneuver_id,
        r.maneuver_id AS noted_maneuver_id,
        r.student_id,
        r.aspect,
        r.note,
        r.made_at,
        r.until,
        CASE WHEN c.maneuver_id IS NULL THEN c.lapsed_reason END AS lapsed_reason
    FROM stored_reviews AS r
    LEFT JOIN carried AS c ON r.review_id = c.review_id
),

taken_back AS (
    SELECT
        REPLACE(kind, 'undo-', '') AS kind,
        session_id,
        maneuver_id,
        MAX(made_at) AS undone_at
    FROM placed
    WHERE kind LIKE 'undo-%'
    GROUP BY ALL
)

SELECT
    r.review_id,
    r.kind,
    r.session_id,
    r.maneuver_id,
    r.noted_maneuver_id,
    r.student_id,
    r.aspect,
    r.note,
    r.made_at,
    r.until,
    r.lapsed_reason
FROM placed AS r
LEFT JOIN taken_back AS u
    ON
        r.kind = u.kind
        AND r.session_id IS NOT DISTINCT FROM u.session_id
        AND r.maneuver_id IS NOT DISTINCT FROM u.maneuver_id
WHERE r.kind NOT LIKE 'undo-%' AND (u.undone_at IS NULL OR r.made_at > u.undone_at);
