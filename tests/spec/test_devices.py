"""devices: of several lines for a device and a day, the newest counts; each valid_from is a row."""

from tests.expected import assert_relation, stored


def test_a_new_line_replaces_that_of_the_same_day_and_adds_to_others() -> None:
    assert_relation(
        "devices",
        """device_id | device_class | control  | valid_from
           D1        | simulator    | centring | -
           D1        | simulator    | free     | 2026-03-01
           D2        | aeroplane    | free     | -""",
        stored_devices=stored(
            "devices",
            """device_id | device_class | control  | valid_from | batch_id
               D1        | aeroplane    | free     | -          | b1
               D1        | simulator    | centring | -          | b2
               D1        | simulator    | free     | 2026-03-01 | b2
               D1        | simulator    | centring | 2026-03-01 | b1
               D2        | aeroplane    | free     | -          | b1""",
        ),
    )


def test_no_list_no_devices() -> None:
    assert_relation("devices", "device_id | control", stored_devices=stored("devices"))
