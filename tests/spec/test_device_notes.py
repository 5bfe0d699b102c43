"""device_notes: devices that are named to operations before a person is flagged."""

# ruff: noqa: E501 (tables in text are wide)

from tests.tables import rows_of


def test_a_device_far_off_with_enough_linking_students_is_named_as_of_the_latest_date() -> None:
    rows = rows_of(
        "device_notes",
        device_effects="""
            aspect   | device_class | session_date | device_id | effect_ln | session_count | student_count | linking_students
            altitude | simulator    | 2026-03-01   | D1        | 0.50      | 20            | 9             | 9
            altitude | simulator    | 2026-03-02   | D1        | 0.20      | 21            | 9             | 4
            altitude | simulator    | 2026-03-02   | D2        | -0.20     | 21            | 9             | 3
            altitude | simulator    | 2026-03-02   | D3        | 0.15      | 21            | 9             | 9
            altitude | simulator    | 2026-03-02   | D4        | -0.18     | 21            | 9             | 9""",
    )
    assert [r["device_id"] for r in rows] == ["D1", "D4"]
    assert rows[0]["note"] == (
        "D1: altitude figures are 22 % wider than the same students' elsewhere (21 sessions, 4 students who flew others too)"
    )
    assert "16 % narrower" in rows[1]["note"]
