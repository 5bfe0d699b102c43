"""Every data check by its name: what it found when it speaks, how grave that is, and what to do."""

from dataclasses import dataclass
from typing import Final

SEVERITY_MEANINGS: Final[dict[str, str]] = {
    "note": "worth knowing; nothing was changed by it",
    "warning": "some samples or tasks were set aside, or a time is doubtful",
    "suspect": "the channel is doubtful; what rests on it is still scored",
    "not_scored": "what rests on the channel is measured but not scored",
}


@dataclass(frozen=True)
class GateMeaning:
    """One data check. `affected` says what its count counts, `severities` how it may speak."""

    gate: str
    severities: tuple[str, ...]
    affected: str
    meaning: str
    advice: str


def _gate(gate: str, severities: str, affected: str, meaning: str, advice: str) -> GateMeaning:
    return GateMeaning(gate, tuple(severities.split()), affected, meaning, advice)


GATES: Final[tuple[GateMeaning, ...]] = (
    _gate(
        "rows_cut",
        "warning",
        "rows",
        "rows with more or fewer cells than the heading were left out; over 5 % refuse the log",
        "look for a recorder that was stopped while it wrote",
    ),
    _gate(
        "time_unreadable",
        "warning",
        "rows",
        "rows without a usable time were left out; over 5 % refuse the log",
        "look at the recorder's clock",
    ),
    _gate(
        "values_nulled",
        "warning suspect",
        "samples",
        "values that are no number, not finite or outside the channel's range became NULL; over "
        "5 % of a required channel refuse the log, over 5 % of another make it suspect",
        "look at the sensor, or at the unit in the recorder's profile",
    ),
    _gate(
        "duplicate_rows",
        "note",
        "rows",
        "exact copies of earlier rows were left out",
        "nothing; the recorder wrote them twice",
    ),
    _gate(
        "time_backwards",
        "warning",
        "rows",
        "rows whose time runs back were left out; over 1 % refuse the log",
        "look at the recorder's clock",
    ),
    _gate(
        "time_repeats",
        "warning",
        "rows",
        "rows that repeat a time with other values were left out, the first stays; over 1 % refuse "
        "the log",
        "look at the resolution of the recorder's clock",
    ),
    _gate(
        "frozen",
        "suspect not_scored",
        "samples",
        "the channel stood still to the bit for over a minute while another channel of the same "
        "motion moved; a frozen altitude or heading keeps what rests on it from being scored",
        "have the sensor looked at",
    ),
    _gate(
        "spikes",
        "warning suspect",
        "samples",
        "single samples further from both neighbours than an aeroplane can go and come back, where "
        "the neighbours are calm and close together, became NULL; suspect over 1 %",
        "look at the sensor's wiring if they are many",
    ),
    _gate(
        "coarse_channel",
        "note suspect",
        "samples",
        "the channel is recorded in large steps (noted from 10 ft, 2 deg, 100 ft/min, 2 kt; suspect "
        "from 50 ft, 5 deg, 250 ft/min, 10 kt), which scatter its figures by the step over the "
        "square root of 12",
        "read small differences with care, or record in finer steps",
    ),
    _gate(
        "gaps",
        "note",
        "gaps",
        "steps between samples longer than the session's gap limit; that time is not observed and "
        "nothing is put in its place",
        "look at the recorder if they are many",
    ),
    _gate(
        "mixed_rates",
        "note",
        "steps",
        "for over a tenth of the time samples came at twice or half the usual rate, or further off; "
        "figures weigh time, not rows",
        "nothing, if the recorder is meant to do that",
    ),
    _gate(
        "pause",
        "note",
        "samples",
        "of four channels of motion or more none moved for 5 s; maneuvers are split there",
        "nothing; the simulator was paused",
    ),
    _gate(
        "jump",
        "note",
        "steps",
        "heading, or heading and altitude, went further between two samples than an aeroplane can, "
        "and stayed there; maneuvers are split there",
        "nothing, if the simulator was placed anew",
    ),
    _gate(
        "altimeter_step",
        "suspect",
        "steps",
        "altitude alone stepped by 25 ft or more between two samples and stayed there, as when an "
        "altimeter is set anew (27.3 ft per hPa near sea level)",
        "look whether a task's altitude was meant before or after it",
    ),
    _gate(
        "vertical_speed_disagrees",
        "suspect",
        "samples",
        "in a fifth of all half minutes and at least three, the mean logged vertical speed differs "
        "from the change of altitude by over 200 ft/min (and twice the altitude's step, and what a lag of "
        "9 s explains)",
        "look at its sign and unit in the recorder's profile",
    ),
    _gate(
        "clock_disagrees",
        "warning",
        "samples",
        "the log begins over a quarter of an hour before or after the session's start; tasks count "
        "from that start",
        "look at started_at, or at the zone in the recorder's profile",
    ),
    _gate(
        "read_with_profile",
        "note",
        "samples",
        "which recorder profile the log was read with, and a fingerprint of what it said then",
        "nothing",
    ),
    _gate(
        "column_absent",
        "note",
        "nothing: 0",
        "the profile names columns that the log does not have; their channels are absent",
        "look whether the recorder was set up as usual",
    ),
    _gate(
        "started_in_future",
        "warning",
        "nothing: 0",
        "the session's start lies after the time of the run",
        "look at started_at in sessions.csv",
    ),
    _gate(
        "before_student_start",
        "warning",
        "nothing: 0",
        "the session was flown before the student's start_date",
        "look at sessions.csv and roster.csv",
    ),
    _gate(
        "tasks_refused",
        "warning",
        "tasks",
        "tasks that cannot be used (overlap, outside the log, unknown kind, ...) were left out; the "
        "others are scored",
        "mend the task list and deliver it again",
    ),
    _gate(
        "tasks_clipped",
        "note",
        "tasks",
        "tasks that reach up to 2 s past the log were clipped to it",
        "nothing",
    ),
)

GATE_BY_NAME: Final[dict[str, GateMeaning]] = {meaning.gate: meaning for meaning in GATES}
