"""The search's view of a session equals the slow, obvious reference, on generated flights without tasks."""

from dataclasses import replace
from typing import Any

from hypothesis import given, settings

from tests.flights import Log, connection_over, rows_by, stored_tables
from tests.generated_flights import SHORT_LIMITS, USUAL, logs, own_limits
from tests.reference.search import is_searched, motions_of, seconds_of
from tests.reference.sessions import read_sessions

KEY = ("session_id", "revision", "second_no")
SHORT = {**SHORT_LIMITS, "inferred_untasked_s": 30.0}
SEEN = ("stretch_no", "altitude_ft", "heading_deg", "airspeed_kt", "power")


def _is_same(ours: Any, theirs: Any) -> bool:  # noqa: ANN401
    if ours is None or theirs is None:
        return ours is theirs
    return abs(ours - theirs) <= 1e-6 * max(1.0, abs(ours))


@given(logs(), logs())
@settings(USUAL, max_examples=6)
def test_the_search_sees_each_second_as_the_reference_does(first: Log, second: Log) -> None:
    """One log without any task, one with those it was flown by."""
    flown = [replace(first, tasks=()), replace(second, session_id="S2")]
    tables = stored_tables(flown)
    names = ("session_seconds", "slow_motions", "session_breaks", "settings")
    con = connection_over(tables, names, own_limits=own_limits(SHORT))
    limits = {str(n): float(v) for n, v in con.sql("SELECT name, value FROM settings").fetchall()}
    breaks = con.sql("FROM session_breaks").to_arrow_table().to_pylist()
    seconds, motions = (rows_by(con, name, *KEY) for name in names[:2])
    tasks = tables["stored_tasks"].to_pylist()
    told = 0
    for key, session in read_sessions(tables, limits).items():
        mine = [t for t in tasks if (t["session_id"], t["revision"]) == key]
        cuts = [b for b in breaks if (b["session_id"], b["revision"]) == key]
        ours = seconds_of(session, cuts, limits) if is_searched(session, mine, limits) else {}
        assert {k[2] for k in seconds if k[:2] == key} == set(ours)
        slow = motions_of(ours, limits)
        for number, row in ours.items():
            sql, moving = seconds[(*key, number)], motions[(*key, number)]
            assert all(_is_same(row[c], sql[c]) for c in SEEN), (row, sql)
            assert all(_is_same(v, moving[c]) for c, v in slow[number].items()), (
                slow[number],
                moving,
            )
            told += 1
    assert told or not seconds
