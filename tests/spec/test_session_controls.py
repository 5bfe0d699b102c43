"""session_controls: how a session's stick behaved, by the device list as it held on that day."""

import pytest

from tests.expected import stored
from tests.tables import rows_of

HEAD = "device_id | control | valid_from"


@pytest.mark.parametrize(
    ("devices", "control"),
    [
        ("", "centring"),  # a device that is not listed
        ("SIM-2 | free | -", "centring"),
        ("SIM-1 | free | -", "free"),
        ("SIM-1 | free | 2026-03-14", "free"),  # from that very day on
        ("SIM-1 | free | 2026-03-15", "centring"),  # not yet
        ("SIM-1 | free | 2026-01-01\nSIM-1 | centring | 2026-03-01", "centring"),
        ("SIM-1 | centring | 2026-03-01\nSIM-1 | free | 2026-04-01", "centring"),
        ("SIM-1 | free | -\nSIM-1 | centring | 2026-03-01", "centring"),
    ],
)
def test_the_newest_line_that_held_on_the_day_counts(devices: str, control: str) -> None:
    [row] = rows_of(
        "session_controls",
        stored_sessions=stored("sessions", "session_id | gap_limit_s\nS1 | 1.5"),
        devices=f"{HEAD}\n{devices}".strip(),
    )
    assert row["control"] == control


def test_a_session_without_a_device_counts_as_centring() -> None:
    [row] = rows_of(
        "session_controls",
        stored_sessions=stored("sessions", "session_id | device_id\nS1 | -"),
        devices=f"{HEAD}\nSIM-1 | free | -",
    )
    assert row["control"] == "centring"


def test_every_revision_has_its_own_row_and_sessions_says_the_same() -> None:
    devices = f"{HEAD} | device_class\nSIM-1 | free | 2026-03-14 | simulator"
    both = stored(
        "sessions",
        """session_id | revision | session_date
           S1         | 1        | 2026-03-13
           S1         | 2        | 2026-03-14""",
    )
    found = rows_of("session_controls", stored_sessions=both, devices=devices)
    assert {r["revision"]: r["control"] for r in found} == {1: "centring", 2: "free"}
    [counted] = rows_of(
        "sessions",
        stored_sessions=both,
        devices=devices,
        students="student_id | cohort | stage",
        reviews="kind | session_id | student_id | made_at",
    )
    assert counted["control"] == "free"
