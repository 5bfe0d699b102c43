-- One row is a session that counts and its air: as declared, as the log shows it, and as it is used.
-- Inputs: sessions, air_readings, limits
-- Grain: session_id
-- Units: air_shake in the unit that shake_of names
-- Source: ours. The log tells by the vertical shake where pitch attitude explains what the student did; else by the shake of the airspeed; else by the vertical
-- shake that the pitch control leaves. used_air is the rougher of the two where either is moderate or rough; else what was declared; else
-- what the log shows. It is a stratum, never a factor on a tolerance: no published turbulence factor exists.
CREATE OR REPLACE VIEW session_air AS
WITH told AS (
    SELECT
        s.session_id,
        s.air AS declared_air,
        CASE
            WHEN r.session_id IS NULL THEN NULL
            WHEN s.median_step_s > 1 THEN NULL
            WHEN
                r.explained_by = 'pitch attitude' AND r.seconds >= l.air_seconds
                AND COALESCE(r.altitude_step_ft <= l.air_altitude_step_ft, TRUE) THEN 'vertical speed less pitch attitude'
            WHEN r.airspeed_seconds >= l.air_seconds THEN 'airspeed'
            WHEN
                r.explained_by = 'pitch control' AND r.seconds >= l.air_seconds
                AND COALESCE(r.altitude_step_ft <= l.air_altitude_step_ft, TRUE) THEN 'vertical speed less pitch control'
        END AS shake_of,
        r.vertical_shake_fpm,
        r.airspeed_shake_kt,
        CASE
            WHEN r.session_id IS NULL THEN 'not measured'
            WHEN s.median_step_s > 1 THEN 'samples are too far apart to show the air'
            WHEN r.airspeed_seconds < l.air_seconds AND r.altitude_step_ft > l.air_altitude_step_ft THEN 'altitude too coarse to show the air'
            WHEN r.airspeed_seconds < l.air_seconds AND r.explained_by IS NULL THEN 'neither pitch, pitch control nor airspeed logged'
            WHEN GREATEST(r.seconds, r.airspeed_seconds) < l.air_seconds THEN 'too short to show the air'
        END AS air_reason
    FROM sessions AS s
    CROSS JOIN limits AS l
    LEFT JOIN air_readings AS r ON s.session_id = r.session_id AND s.revision = r.revision
),

scaled AS (
    SELECT
        t.*,
        CASE WHEN t.shake_of = 'vertical speed less pitch control' THEN l.air_control_factor ELSE 1 END AS factor
    FROM told AS t
    CROSS JOIN limits AS l
),

detected AS (
    SELECT
        t.session_id,
        t.declared_air,
        t.shake_of,
        CASE WHEN t.shake_of = 'airspeed' THEN t.airspeed_shake_kt ELSE t.vertical_shake_fpm END AS air_shake,
        CASE
            WHEN t.shake_of IS NULL THEN NULL
            WHEN t.shake_of = 'airspeed'
                THEN
                    CASE
                        WHEN t.airspeed_shake_kt >= l.air_rough_kt THEN 'rough'
                        WHEN t.airspeed_shake_kt >= l.air_moderate_kt THEN 'moderate'
                        WHEN t.airspeed_shake_kt >= l.air_light_kt THEN 'light'
                        ELSE 'smooth'
                    END
            WHEN t.vertical_shake_fpm >= t.factor * l.air_rough_fpm THEN 'rough'
            WHEN t.vertical_shake_fpm >= t.factor * l.air_moderate_fpm THEN 'moderate'
            WHEN t.vertical_shake_fpm >= t.factor * l.air_light_fpm THEN 'light'
            ELSE 'smooth'
        END AS detected_air,
        t.air_reason
    FROM scaled AS t
    CROSS JOIN limits AS l
),

ranked AS (
    SELECT
        d.session_id,
        d.declared_air,
        d.detected_air,
        d.shake_of,
        CASE WHEN d.shake_of IS NOT NULL THEN d.air_shake END AS air_shake,
        d.air_reason,
        COALESCE(LIST_POSITION(['smooth', 'light', 'moderate', 'rough'], d.declared_air), 0) AS declared_rank,
        COALESCE(LIST_POSITION(['smooth', 'light', 'moderate', 'rough'], d.detected_air), 0) AS detected_rank
    FROM detected AS d
)

SELECT
    session_id,
    declared_air,
    detected_air,
    CASE
        WHEN detected_rank >= 3 AND detected_rank > declared_rank THEN detected_air
        ELSE COALESCE(declared_air, detected_air)
    END AS used_air,
    COALESCE(GREATEST(declared_rank, detected_rank) >= 3, FALSE) AS is_rougher,
    air_shake,
    shake_of,
    CASE WHEN detected_air IS NULL THEN COALESCE(air_reason, 'not told') END AS air_reason
FROM ranked;
