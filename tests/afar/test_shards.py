"""Shares of the measuring, as jobs of an array measure them."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from pipeline.errors import LockHeld, UsageError
from pipeline.measure import measure_warehouse
from pipeline.measure.shards import Shard, measure_shard, shard_of
from pipeline.reports import Outcome
from pipeline.settings import Settings
from pipeline.store import hold_lock
from pipeline.store.shares import share_lock
from tests.afar.machines import likeness, measured_bytes, school_of


def test_every_unit_falls_to_one_share_and_to_the_same_one_everywhere() -> None:
    names = [f"2026-03-{day:02d}/b{day}" for day in range(1, 29)]
    shares = [Shard(number, 5) for number in range(1, 6)]
    assert all(sum(share.holds(name) for share in shares) == 1 for name in names)
    assert [n for n in names if Shard(2, 5).holds(n)][:2] == ["2026-03-02/b2", "2026-03-07/b7"]


@pytest.mark.parametrize("text", ["", "3", "0/4", "5/4", "1/0", "a/b", "-1/2"])
def test_a_share_that_is_none_is_refused(text: str) -> None:
    with pytest.raises(UsageError, match="write I/N"):
        shard_of(text)


@pytest.mark.slow
def test_an_array_run_twice_leaves_a_score_nothing_to_do(tmp_path: Path) -> None:
    school = school_of(tmp_path / "shares", 3)
    whole = likeness(school, tmp_path / "whole")
    measure_warehouse(whole.store, Settings())
    shares = [Shard(number, 2) for number in (1, 2)]
    first = [measure_shard(school.store, Settings(), share) for share in shares]
    assert first[0].awaited + first[0].work.count(Outcome.DONE) == 3
    assert first[1].awaited == 0
    again = [measure_shard(school.store, Settings(), share) for share in shares]
    assert [report.awaited for report in again] == [0, 0]
    report = measure_warehouse(school.store, Settings())
    assert report.count(Outcome.DONE) == 0
    assert report.count(Outcome.CURRENT) == 6
    assert measured_bytes(school.store) == measured_bytes(whole.store)


def test_shares_are_at_work_side_by_side_and_a_night_waits_for_them(tmp_path: Path) -> None:
    store = school_of(tmp_path, 1).store
    now = datetime(2026, 4, 1, tzinfo=UTC)
    night, share = hold_lock(store, "nightly", now), share_lock(store)
    with share_lock(store), share_lock(store), pytest.raises(LockHeld), night:
        pass
    with hold_lock(store, "nightly", now), pytest.raises(LockHeld, match="nightly"), share:
        pass
