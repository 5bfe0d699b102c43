"""roll_trim: a heavy wing, held or let be."""

import pyarrow as pa

from tests.logs import NO_LIMITS
from tests.tables import rows_of, table

MANEUVERS = """
    maneuver_id | session_id | kind
    held        | s1         | level
    let         | s1         | level
    wander      | s1         | level
    even        | s1         | level
    climb       | s1         | climb
    yoke        | s2         | level
    unknown     | s3         | level
    bare        | s1         | level"""
SESSIONS = """
    session_id | device_id | session_date | control
    s1         | D1        | 2026-03-01   | centring
    s2         | D2        | 2026-03-01   | free
    s3         | D3        | 2026-03-01   | centring"""
CHANNELS = {"s1": [], "s2": ["roll_trim"], "s3": []}
SUMS = """
    maneuver_id | channel      | mean  | spread
    held        | roll_control | -0.06 | 0.01
    held        | bank         | 0.1   | 1
    let         | roll_control | 0.01  | 0.01
    let         | bank         | -3.5  | 1
    wander      | roll_control | 0.01  | 0.01
    wander      | bank         | 3.5   | 4
    even        | roll_control | 0.01  | 0.01
    even        | bank         | 0.3   | 1
    climb       | roll_control | -0.30 | 0.01
    yoke        | roll_control | -0.10 | 0.01
    unknown     | roll_control | -0.10 | 0.01"""
NEUTRALS = """
    device_id | session_date | input        | neutral | neutral_reason
    D1        | 2026-03-01   | roll_control | 0.01    | -
    D2        | 2026-03-01   | roll_control | 0       | -"""


def test_a_wing_is_heavy_where_control_is_held_or_a_bank_stands() -> None:
    sessions = table(SESSIONS)
    channels = [CHANNELS[name] for name in sessions["session_id"].to_pylist()]
    sessions = sessions.append_column("channels", pa.array(channels, pa.list_(pa.string())))
    rows = rows_of(
        "roll_trim",
        maneuvers=MANEUVERS,
        sessions=sessions,
        channel_sums=SUMS,
        control_neutrals=neutrals(),
        own_limits=NO_LIMITS,
    )
    found = {
        r["maneuver_id"]: (r["heavy_wing"], r["held_roll_control"], r["roll_trim_reason"])
        for r in rows
    }
    assert found == {
        "held": ("right", -0.07, None),
        "let": ("left", 0, None),
        "wander": (None, 0, None),
        "even": (None, 0, None),
        "yoke": (None, None, "a free control with a trim shows no force"),
        "unknown": (None, None, "no neutral: device not seen"),
        "bare": (None, None, "roll control not logged"),
    }


def neutrals() -> pa.Table:
    lines = [[cell.strip() for cell in line.split("|")] for line in NEUTRALS.strip().splitlines()]
    plain = table("\n".join(" | ".join(line[:2] + line[3:]) for line in lines))
    return plain.append_column("input", pa.array([line[2] for line in lines[1:]]))
