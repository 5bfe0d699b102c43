"""untasked_sessions: which sessions are searched for maneuvers."""

from tests.tables import rows_of

STRETCHES = """
    session_id | revision | start_s | end_s
    s1         | 1        | 0       | 30
    s1         | 1        | 100     | 189
    s2         | 1        | 10      | 100
    s2         | 2        | 0       | 600
    s2         | 2        | 700     | 720"""


def test_a_session_is_searched_where_one_stretch_is_open_for_long_enough() -> None:
    rows = rows_of("untasked_sessions", open_stretches=STRETCHES, limits="inferred_untasked_s\n90")
    found = {(r["session_id"], r["revision"]): r["open_s"] for r in rows}
    assert found == {("s2", 1): 90, ("s2", 2): 600}
