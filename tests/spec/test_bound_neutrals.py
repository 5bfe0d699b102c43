"""bound_neutrals: the neutrals that settling and hands-off readings are made with."""

from tests.expected import assert_relation


def test_unbound_they_are_the_devices_own() -> None:
    assert_relation(
        "bound_neutrals",
        "device_id | session_date | pitch_neutral\nD1 | 2026-03-01 | 0.03\nD2 | 2026-03-01 | -",
        device_neutrals="""device_id | session_date | pitch_neutral | spread
                           D1        | 2026-03-01   | 0.03          | 0.1
                           D2        | 2026-03-01   | -             | -""",
    )
