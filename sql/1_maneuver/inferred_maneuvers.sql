-- One row is a maneuver that was found in a log where no task was: what it was, when, what the student settled to, how sure that is.
-- A TABLE: kept, so that the search is made once.
-- Inputs: found_windows, found_climbs, found_turns, found_power_changes, open_stretches, session_seconds, slow_motions, inferred_confidences, limits
-- Grain: maneuver_id
-- Units: start_s and end_s in seconds from the session's start; altitude in feet; heading in degrees magnetic; unrest and confidence as fractions
-- Kept: one file beside each samples file
-- Source: ours. Targets are medians, rounded to 10 ft and 1 deg: altitudes of level flight over all of it, of a level-off over its second half, of a climb or
-- descent over what followed, of a power change and a turn over the half minute before (of a power change only as far as that was level and straight;
-- over all of it where nothing was before); headings of a turn over what followed, of a power change as its altitude, else over all of it. They flatter: a
-- student who settled beside what was asked is measured against where he settled. confidence is that of inferred_confidences; unrest the share
-- of seconds that climbed, descended or turned all the same. Where tasks cover part of a find, level flight keeps the
-- rest, a level-off or a power change keeps it if its beginning is open, both from inferred_minimum_s on; a climb, a descent or a turn is told whole or not.
CREATE OR REPLACE TABLE inferred_maneuvers AS
WITH parts AS (
    SELECT
        w.session_id,
        w.revision,
        w.stretch_no,
        w.kind,
        w.start_no,
        w.end_no,
        w.flat_no,
        w.begun_no,
        GREATEST(w.start_no, o.start_s) AS start_s,
        LEAST(w.end_no, o.end_s) AS end_s
    FROM found_windows AS w
    CROSS JOIN limits AS l
    INNER JOIN open_stretches AS o
        ON w.session_id = o.session_id AND w.revision = o.revision AND w.start_no < o.end_s AND w.end_no > o.start_s
    WHERE
        CASE
            WHEN w.kind = 'level' THEN LEAST(w.end_no, o.end_s) - GREATEST(w.start_no, o.start_s) >= l.inferred_minimum_s
            WHEN w.kind IN ('level_off', 'power_change')
                THEN o.start_s <= w.start_no AND LEAST(w.end_no, o.end_s) - w.start_no >= l.inferred_minimum_s
            ELSE o.start_s <= w.start_no AND o.end_s >= w.end_no
        END
),

settled AS (
    SELECT
        p.session_id,
        p.revision,
        p.kind,
        p.begun_no,
        p.start_s,
        p.end_s,
        MEDIAN(s.altitude_ft) FILTER (WHERE s.second_no >= p.start_s AND s.second_no < p.end_s) AS within_ft,
        MEDIAN(s.altitude_ft) FILTER (WHERE s.second_no >= (p.start_s + p.end_s) / 2 AND s.second_no < p.end_s) AS late_ft,
        MEDIAN(s.altitude_ft) FILTER (WHERE s.second_no < p.start_s AND s.second_no >= p.flat_no) AS before_ft,
        MEDIAN(s.heading_deg) FILTER (WHERE s.second_no >= p.start_s AND s.second_no < p.end_s) AS within_deg,
        MEDIAN(s.heading_deg) FILTER (WHERE s.second_no < p.start_s AND s.second_no >= p.flat_no) AS before_deg,
        MEDIAN(s.altitude_ft) FILTER (WHERE s.second_no < p.start_s) AS earlier_ft,
        COUNT(s.power) > 0 AS has_power
    FROM parts AS p
    INNER JOIN session_seconds AS s
        ON
            p.session_id = s.session_id AND p.revision = s.revision AND p.stretch_no = s.stretch_no
            AND s.second_no >= p.start_s - 30 AND s.second_no < p.end_s
    GROUP BY p.session_id, p.revision, p.kind, p.begun_no, p.start_s, p.end_s
),

restless AS (
    SELECT
        p.session_id,
        p.revision,
        p.start_s,
        AVG(
            CASE WHEN ABS(m.climb_fpm) > l.inferred_rest_fpm OR ABS(m.turn_deg_per_s) > l.inferred_rest_deg_per_s THEN 1 ELSE 0 END
        ) AS unrest
    FROM parts AS p
    CROSS JOIN limits AS l
    INNER JOIN slow_motions AS m
        ON
            p.session_id = m.session_id AND p.revision = m.revision
            AND m.second_no >= p.start_s AND m.second_no < p.end_s
    GROUP BY p.session_id, p.revision, p.start_s
),

aimed AS (
    SELECT
        t.session_id,
        t.revision,
        t.kind,
        t.start_s,
        t.end_s,
        t.has_power,
        r.unrest,
        CASE
            WHEN t.kind IN ('climb', 'descent') THEN v.settled_ft
            WHEN t.kind = 'level_off' THEN t.late_ft
            WHEN t.kind = 'power_change' THEN COALESCE(t.before_ft, t.within_ft)
            WHEN t.kind = 'turn' THEN COALESCE(t.earlier_ft, t.within_ft)
            ELSE t.within_ft
        END AS altitude_ft,
        CASE
            WHEN t.kind = 'turn' THEN u.settled_deg
            WHEN t.kind = 'power_change' THEN COALESCE(t.before_deg, t.within_deg)
            ELSE t.within_deg
        END AS heading_deg,
        CASE
            WHEN t.kind IN ('climb', 'descent') THEN CASE WHEN v.change_ft >= l.inferred_climb_clear_ft THEN 'clear' ELSE 'fair' END
            WHEN t.kind = 'turn' THEN CASE WHEN u.peak_deg_per_s >= l.inferred_turn_clear_deg_per_s THEN 'clear' ELSE 'fair' END
            WHEN r.unrest >= l.inferred_restless_share THEN 'doubtful'
            WHEN r.unrest >= l.inferred_calm_share THEN 'fair'
            WHEN t.kind = 'power_change' AND ABS(c.power_step) < l.inferred_power_clear THEN 'fair'
            ELSE 'clear'
        END AS evidence
    FROM settled AS t
    CROSS JOIN limits AS l
    INNER JOIN restless AS r ON t.session_id = r.session_id AND t.revision = r.revision AND t.start_s = r.start_s
    LEFT JOIN found_climbs AS v
        ON t.session_id = v.session_id AND t.revision = v.revision AND t.begun_no = v.start_no AND t.kind = v.kind
    LEFT JOIN found_turns AS u
        ON t.session_id = u.session_id AND t.revision = u.revision AND t.begun_no = u.start_no AND t.kind = 'turn'
    LEFT JOIN found_power_changes AS c
        ON t.session_id = c.session_id AND t.revision = c.revision AND t.begun_no = c.start_no AND t.kind = 'power_change'
),

rounded AS (
    SELECT
        a.session_id,
        a.revision,
        a.kind,
        CAST(a.start_s AS DOUBLE) AS start_s,
        CAST(a.end_s AS DOUBLE) AS end_s,
        10 * ROUND(a.altitude_ft / 10) AS target_altitude_ft,
        ROUND(a.heading_deg) - 360 * FLOOR(ROUND(a.heading_deg) / 360) AS target_heading_deg,
        a.unrest,
        a.evidence,
        f.confidence
    FROM aimed AS a
    LEFT JOIN inferred_confidences AS f
        ON a.kind = f.kind AND a.evidence = f.evidence AND a.has_power = f.has_power
)

SELECT
    FORMAT(
        '{}.{}.i{:02d}',
        session_id,
        revision,
        ROW_NUMBER() OVER (PARTITION BY session_id, revision ORDER BY start_s)
    ) AS maneuver_id,
    session_id,
    revision,
    kind,
    'inferred' AS basis,
    start_s,
    end_s,
    target_altitude_ft,
    target_heading_deg,
    'student' AS flown_by,
    target_altitude_ft - 100 * ROUND(target_altitude_ft / 100) AS beside_hundred_ft,
    target_heading_deg - 5 * ROUND(target_heading_deg / 5) AS beside_five_deg,
    ROUND(unrest, 9) AS unrest,
    evidence,
    confidence
FROM rounded
ORDER BY maneuver_id;
