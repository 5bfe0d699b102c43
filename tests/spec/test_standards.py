"""standards: shipped tolerances, and a school's own in their place."""

from tests.expected import assert_relation
from tests.tables import rows_of


def test_every_row_says_where_it_comes_from() -> None:
    for row in rows_of("standards"):
        assert row["tolerance"] > 0
        assert row["unit"] == {"altitude": "ft", "heading": "deg", "airspeed": "kt"}[row["channel"]]
        assert row["document"]
        assert row["task"]
        assert row["verification"] in {"own", "primary", "secondary"}
        is_restated = row["edition"] == "as restated in secondary sources"
        assert is_restated is (row["verification"] == "secondary")


def test_no_standard_has_two_tolerances_for_a_channel() -> None:
    keys = [(r["standard_id"], r["channel"]) for r in rows_of("standards")]
    assert len(keys) == len(set(keys))


def test_a_school_adds_its_own() -> None:
    own = "standard_id | channel:text | tolerance | unit\nclub | altitude | 120 | ft"
    [row] = [r for r in rows_of("standards", own_standards=own) if r["standard_id"] == "club"]
    assert (row["tolerance"], row["document"], row["verification"]) == (
        120,
        "the school's own",
        "own",
    )


def test_a_schools_own_of_the_same_name_takes_the_place_of_the_whole_shipped_one() -> None:
    own = "standard_id | channel:text | tolerance | unit\nfirst-lessons | altitude | 250 | ft"
    found = [
        r for r in rows_of("standards", own_standards=own) if r["standard_id"] == "first-lessons"
    ]
    assert [(r["channel"], r["tolerance"]) for r in found] == [("altitude", 250)]
    others = {r["standard_id"] for r in rows_of("standards")} - {"first-lessons"}
    assert others < {r["standard_id"] for r in rows_of("standards", own_standards=own)}


def test_nothing_is_a_schools_own_or_a_stage_until_it_says_so() -> None:
    assert_relation("own_standards", "standard_id | channel:text | tolerance | unit")
    assert_relation("stage_standards", "stage | standard_id")
    assert_relation("own_limits", "name | value")
