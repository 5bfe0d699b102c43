-- One row is how a maneuver's channel stayed within a standard's tolerance: share of time, times left, longest, total time outside.
-- Inputs: standards, tolerance_excursions
-- Grain: maneuver_id, standard_id, channel
-- Units: in_tolerance as a fraction of observed time; excursions, excursions_2x and excursions_2s are counts; _s in seconds
-- Source: number and duration of excursions as in the literature on pilot performance; the second tier at twice the tolerance is ours.
-- All null, with excursions_reason, without a target, or where the recorder, or the channel, was slower than excursion_step_limit_s.
-- is_longest_lower_bound: the maneuver's edge or a gap cut the longest excursion (of equals, any). Lengths are compared as rounded.
CREATE OR REPLACE VIEW excursions AS
SELECT
    f.maneuver_id,
    s.standard_id,
    s.channel,
    f.in_tolerance,
    f.excursions,
    f.excursions_2x,
    f.excursions_2s,
    f.out_s,
    f.longest_out_s,
    f.is_longest_lower_bound,
    f.time_to_exceed_s,
    f.excursions_reason
FROM standards AS s
INNER JOIN tolerance_excursions AS f ON s.channel = f.channel AND s.tolerance = f.tolerance;
