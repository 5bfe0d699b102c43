"""standard_changes: when the standard that a student is held to became another one."""

from tests.tables import rows_of

STAGES = """stage  | standard_id
            solo   | easa-ppl
            circuit| easa-ppl
            exam   | acs-private"""


def test_only_a_stage_with_another_standard_is_a_change_and_the_last_line_of_a_date_holds() -> None:
    found = rows_of(
        "standard_changes",
        stored_roster="""student_id | stage   | batch_id
                         A          | -       | b20260301T020000Z-000001
                         A          | solo    | b20260308T020000Z-000002
                         A          | circuit | b20260309T020000Z-000003
                         B          | solo    | b20260301T020000Z-000001
                         B          | exam    | b20260308T020000Z-000002
                         B          | solo    | b20260308T030000Z-000004
                         C          | exam    | b20260308T020000Z-000002""",
        stage_standards=STAGES,
    )
    assert [
        (r["student_id"], str(r["changed_on"]), r["previous_standard_id"], r["standard_id"])
        for r in found
    ] == [("A", "2026-03-08", "first-lessons", "easa-ppl")]
    assert found[0]["change_reason"] == (
        "held to easa-ppl since 2026-03-08, to first-lessons before: "
        "figures of earlier sessions are told against easa-ppl too"
    )
