"""What states, checks and their severities mean, in plain words: each once, for every page."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from pipeline.pages.gather import Row
from pipeline.pages.words import percent


@dataclass(frozen=True)
class State:
    """A state of a student in one aspect: its name, a heading, its count in cohort_states, its meaning."""

    name: str
    heading: str
    count: str
    meaning: str

    def words(self, limits: Row) -> str:
        """What it means, with the limits in force."""
        return self.meaning.format(
            **limits, excluded_percent=percent(limits["flag_excluded_share"])
        )


STATES: Final = (
    State(
        "outside the standard",
        "Outside",
        "flagged_students",
        "A finding stands: when it was raised the chance was at least four in five that the level was "
        "outside the standard, and at least {flag_outside_sessions:.0f} of the last "
        "{flag_recent_sessions:.0f} sessions were. It stands until it clears.",
    ),
    State(
        "slipping",
        "Slipping",
        "slipping_students",
        "No finding, not clearly inside either, and the figures grew wider: seen at two sessions "
        "running, from {flag_plateau_sessions:.0f} sessions on.",
    ),
    State(
        "plateau",
        "Plateau",
        "plateau_students",
        "No finding, not clearly inside either, and neither wider nor narrower over "
        "{flag_plateau_sessions:.0f} sessions or more: practice goes on, the figures do not move.",
    ),
    State(
        "about at the standard, cannot say yet",
        "Cannot say yet",
        "undecided_students",
        "No finding, and not clearly inside: the figures lie so near the edge, or so few sessions "
        "count, that no more can be said. Also where the figures lie inside but more than "
        "{excluded_percent} of the sessions were left out.",
    ),
    State(
        "improving",
        "Improving",
        "improving_students",
        "No finding, not clearly inside yet, and the figures grew narrower: seen at two sessions running.",
    ),
    State(
        "meets the standard",
        "Meets",
        "meeting_students",
        "The chance is at least four in five that the level now is inside the standard. It is no test "
        "result.",
    ),
    State(
        "insufficient data",
        "Insufficient data",
        "insufficient_students",
        "Fewer than {flag_minimum_sessions:.0f} sessions count: neither a pass nor a fail.",
    ),
)
"""Every state there is, the one that asks for most attention first; a student has one in each aspect."""

BETWEEN: Final = ("slipping", "plateau", "about at the standard, cannot say yet")
"""States that neither meet the standard nor carry a finding, and that no list of their own tells."""

GATE_WORDS: Final[Mapping[str, str]] = {
    "rows_cut": "rows cut short",
    "time_unreadable": "times that cannot be read",
    "values_nulled": "values out of range",
    "duplicate_rows": "rows written twice",
    "time_backwards": "time runs back",
    "time_repeats": "times repeated",
    "frozen": "channel stood still",
    "spikes": "spikes",
    "coarse_channel": "coarse steps",
    "gaps": "gaps in the recording",
    "mixed_rates": "uneven sampling",
    "pause": "simulator paused",
    "jump": "aeroplane placed anew",
    "altimeter_step": "altimeter stepped",
    "vertical_speed_disagrees": "vertical speed disagrees with altitude",
    "clock_disagrees": "clock disagrees with the session",
    "read_with_profile": "read with a recorder profile",
    "column_absent": "expected column absent",
    "started_in_future": "start lies in the future",
    "before_student_start": "flown before the student started",
    "tasks_refused": "tasks left out",
    "tasks_clipped": "tasks clipped to the log",
}
"""Each data check in words; what it does and what to do about it stands in pipeline.schema.gates."""

SEVERITY_WORDS: Final[Mapping[str, str]] = {
    "note": "worth knowing",
    "warning": "something was set aside",
    "suspect": "channel in doubt",
    "not_scored": "not scored",
}


def in_words(reason: str) -> str:
    """A reason in which a data check is told in words: not frozen, but channel stood still."""
    return re.sub(r"(?<=data check: )\w+", lambda found: GATE_WORDS.get(found[0], found[0]), reason)


def channel_words(channel: str | None) -> str:
    """A channel without its unit and underscores: heading_deg is heading."""
    if channel is None:
        return "the whole log"
    for unit in ("_ft", "_deg", "_fpm", "_kt"):
        channel = channel.removesuffix(unit)
    return channel.replace("_", " ")
