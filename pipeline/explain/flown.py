"""What was seen of one maneuver: a line for each thing, in an instructor's words."""

from __future__ import annotations

from collections.abc import Iterator

from pipeline.explain.rows import Row
from pipeline.explain.words import degrees, feet, plain, push_or_pull, seconds, travel


def details_of(row: Row) -> Iterator[str]:
    """The lines on a maneuver, from one row of the debrief's query."""
    if row["kind"] == "level":
        yield from _held(row)
    if row["kind"] in {"level_off", "power_change"}:
        yield from _settled(row)
    if row["kind"] in {"level_off", "climb", "descent"}:
        yield from _captured(row)
    if row["kind"] == "turn":
        yield from _turned(row)
    yield from _technique(row)


def _held(row: Row) -> Iterator[str]:
    if row["altitude_hold95_ft"] is not None:
        yield (
            f"altitude held within {feet(row['altitude_hold95_ft'])} for 95 % of the time, on average "
            f"{feet(row['altitude_bias_ft'], signed=True)}{_against(row, 'altitude')}"
        )
    if row["heading_hold95_deg"] is not None:
        yield (
            f"heading held within {degrees(row['heading_hold95_deg'])} for 95 % of the time, on average "
            f"{degrees(row['heading_bias_deg'], signed=True)}{_against(row, 'heading')}"
        )
    if not row["is_scored"]:
        yield f"not scored: {row['not_scored_reason']}"
    if row["held_control"] is not None:
        words = push_or_pull(row["held_control"]) if row["is_untrimmed"] else "trimmed"
        yield f"held control {travel(row['held_control'], signed=True)}: {words}"
    elif row["held_force_n"] is not None:
        words = push_or_pull(row["held_force_n"]) if row["is_untrimmed"] else "trimmed"
        yield f"held force {plain(row['held_force_n'], 1)} N: {words}"


def _against(row: Row, aspect: str) -> str:
    if row[f"{aspect}_ratio"] is None:
        return ""
    say = feet if aspect == "altitude" else degrees
    met = {True: "standard met", False: "standard not met", None: "cannot say"}[
        row[f"{aspect}_met"]
    ]
    return f"; {plain(row[f'{aspect}_ratio'])} of +-{say(row[f'{aspect}_tolerance'])}, {met}"


def _settled(row: Row) -> Iterator[str]:
    if row["is_settled"] is None:
        yield f"settling unknown: {row['settling_reason']}"
    elif row["is_settled"]:
        yield f"settled after {seconds(row['trim_settle_s'])}"
    elif row["is_set"]:
        yield f"trimmed and left alone after {seconds(row['trim_set_s'])}, still breathing at the end"
    else:
        yield f"not settled within the {seconds(row['followed_s'])} in which it could have begun"


def _captured(row: Row) -> Iterator[str]:
    """How a climb, a descent or a level-off met its altitude."""
    if row["is_captured"] is None:
        yield f"capture unknown: {row['capture_reason']}"
        return
    reached = (
        f"altitude reached after {seconds(row['capture_s'])}"
        if row["is_captured"]
        else f"altitude not captured within {seconds(row['capture_followed_s'])}"
    )
    beyond = row["overshoot_ft"]
    yield reached + (
        f", overshot by {feet(beyond)}" if beyond is not None and beyond >= 0.5 else ""
    )


def _turned(row: Row) -> Iterator[str]:
    if row["turn_reason"] is not None:
        yield f"turn: {row['turn_reason']}"
    if row["roll_out_error_deg"] is not None:
        yield f"rolled out {degrees(row['roll_out_error_deg'], signed=True)} from the heading"
    if row["altitude_kept_ft"] is not None:
        yield f"altitude kept within {feet(row['altitude_kept_ft'])} of where the turn began"
    if row["is_short_way"] is False:
        yield "turned the long way round"


def _technique(row: Row) -> Iterator[str]:
    """What is worth a word of how it was flown; nothing where nothing is."""
    if row["is_chasing"]:
        yield "the vertical speed needle was chased"
    if row["trims_wrong"]:
        yield f"{row['trims_wrong']} of {row['trims']} trim inputs went against what was held"
    if row["is_control_first"] is False:
        yield "trimmed before the control moved: attitude first, then trim"
