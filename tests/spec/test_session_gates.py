"""session_gates: one row per finding of a data check."""

import pyarrow as pa

from tests.expected import assert_relation


def test_every_finding_is_a_row_and_a_clean_session_has_none() -> None:
    finding = {
        "gate": "frozen",
        "severity": "not_scored",
        "channel": "altitude_ft",
        "affected": 70,
        "from_s": 10.0,
        "to_s": 80.0,
        "detail": "stood still",
    }
    other = {**finding, "gate": "jump", "channel": None, "from_s": None}
    kind = pa.list_(
        pa.struct(
            [
                ("gate", pa.string()),
                ("severity", pa.string()),
                ("channel", pa.string()),
                ("affected", pa.int64()),
                ("from_s", pa.float64()),
                ("to_s", pa.float64()),
                ("detail", pa.string()),
            ]
        )
    )
    sessions = pa.table(
        {"session_id": ["S1", "S2"], "gates": pa.array([[finding, other], []], kind)}
    )
    assert_relation(
        "session_gates",
        """session_id | gate:text | severity   | channel:text | affected | from_s | to_s | detail:text
           S1         | frozen    | not_scored | altitude_ft  | 70       | 10     | 80   | stood still
           S1         | jump      | not_scored | -            | 70       | -      | 80   | stood still""",
        sessions=sessions,
    )
