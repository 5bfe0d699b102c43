"""What a change of definitions moved: figure by figure, flag by flag, on the same sessions on both sides."""

import json
from dataclasses import asdict, replace

import pyarrow as pa
import pytest

from pipeline.measure import measure_warehouse
from pipeline.operate.causes import Cause, causes
from pipeline.operate.figures import FigureMove, compare
from pipeline.operate.former import (
    Definitions,
    definitions_of_today,
    former_definitions,
    keep_definitions,
)
from pipeline.operate.moved import FlagMove, Moved, what_moved
from pipeline.operate.moved_words import moved_lines, moved_of
from pipeline.reading import definitions
from pipeline.relations import relation_files
from pipeline.settings import Settings
from pipeline.store import Warehouse
from tests.inboxes import School
from tests.stores import SETTINGS, busy_school, measured

HOLD = relation_files()["altitude_hold"]


@pytest.fixture(scope="module")
def school(tmp_path_factory: pytest.TempPathFactory) -> School:
    """One session, measured."""
    return measured(busy_school(tmp_path_factory.mktemp("school"), nights=1))


@pytest.fixture
def store(school: School) -> Warehouse:
    """The school's store, its last night told by the definitions of today."""
    keep_definitions(school.store, definitions_of_today(SETTINGS))
    return school.store


def other_view(name: str, old: str, new: str) -> Definitions:
    """Today's definitions with a text in one relation replaced."""
    today = definitions_of_today(SETTINGS)
    (place,) = [place for place in today.sql if place.endswith(f"/{name}")]
    assert old in today.sql[place]
    return replace(
        today, version="0.0.9", sql={**today.sql, place: today.sql[place].replace(old, new)}
    )


def test_with_the_definitions_of_the_last_night_nothing_moved(store: Warehouse) -> None:
    assert what_moved(store, SETTINGS) is None


def test_a_changed_view_and_setting_are_told_with_what_they_moved(store: Warehouse) -> None:
    keep_definitions(store, other_view("altitude_hold", "ROUND(c.hold95, 9)", "2 * c.hold95"))
    own = Settings(limits={"untrimmed_limit": 0.01}, stages={"early": "first-lessons"})
    moved = what_moved(store, own)
    assert moved is not None
    assert (moved.version_before, moved.untold, moved.sessions) == ("0.0.9", None, 1)
    assert moved.causes == (
        Cause("limit", "untrimmed_limit", "changed", "0.05", "0.01"),
        Cause("stage", "early", "new", None, "first-lessons"),
        Cause("relation", "altitude_hold", "changed"),
    )
    held = next(move for move in moved.figures if move.relation == "altitude_hold")
    assert (held.column, held.appeared, held.vanished) == ("altitude_hold95_ft", 0, 0)
    assert (held.moved, held.compared) == (2, 2)
    assert held.before is not None
    assert held.after is not None
    assert float(held.before) == pytest.approx(2 * float(held.after))
    assert held.largest == pytest.approx(float(held.after))
    first, *rest = moved_lines(moved)
    assert "version 0.0.9, now " in first
    assert "limit untrimmed_limit 0.05, now 0.01; stage early not set, now first-lessons" in first
    assert "SQL of altitude_hold" in first
    assert any(held.at in line and "altitude_hold95_ft: 2 of 2" in line for line in rest)
    told = json.loads(json.dumps({"moved": asdict(moved)}))
    assert moved_of(told) == moved


def test_a_changed_comment_is_no_change_of_a_relation(store: Warehouse) -> None:
    former = other_view("altitude_hold", "-- Source: ", "-- Source: another word, ")
    assert causes(former, definitions_of_today(SETTINGS)) == ()


@pytest.mark.slow
def test_the_measures_before_stay_until_a_night_ended_well(store: Warehouse) -> None:
    other = Settings(limits={"altitude_bin_ft": 3})
    before, after = definitions(SETTINGS).digest, definitions(other).digest
    measure_warehouse(store, other)
    assert {path.name for path in store.measures.iterdir()} == {before, after}
    measured_again = measure_warehouse(store, SETTINGS)
    assert {unit.outcome for unit in measured_again.units} == {"current"}
    assert former_definitions(store, definitions_of_today(SETTINGS)) is None
    keep_definitions(store, definitions_of_today(other))
    assert [path.name for path in store.measures.iterdir()] == [after]
    moved = what_moved(store, other)
    assert moved is None
    measure_warehouse(store, SETTINGS)
    back = what_moved(store, SETTINGS)
    assert back is not None
    assert back.causes == (Cause("limit", "altitude_bin_ft", "changed", "3", "0.25"),)
    assert {move.column for move in back.figures} >= {"altitude_hold95_ft"}


@pytest.mark.parametrize(
    ("sql", "said"),
    [
        ("c.lost", "altitude_hold"),
        pytest.param("CAST(m.maneuver_id AS DOUBLE)", "Could not convert", marks=pytest.mark.slow),
    ],
)
def test_what_cannot_be_told_any_more_is_said_and_fails_no_night(
    store: Warehouse, sql: str, said: str
) -> None:
    keep_definitions(store, other_view("altitude_hold", "ROUND(c.mean, 9)", sql))
    moved = what_moved(store, SETTINGS)
    assert moved is not None
    assert moved.untold is not None
    assert said in moved.untold
    assert "what moved cannot be told" in list(moved_lines(moved))[1]


def test_a_record_that_is_spoilt_counts_as_none(store: Warehouse) -> None:
    (path,) = store.measures.glob("*/definitions.json")
    path.write_text("{")
    assert what_moved(store, SETTINGS) is None


def hold(*rows: tuple[str, float | None, str | None]) -> pa.Table:
    """Rows of a relation with a figure and a reason."""
    names = ("maneuver_id", "altitude_rmse_ft", "altitude_hold_reason")
    schema = pa.schema([(names[0], pa.string()), (names[1], pa.float64()), (names[2], pa.string())])
    return pa.Table.from_pylist([dict(zip(names, row, strict=True)) for row in rows], schema=schema)


def test_figures_that_appear_vanish_or_move_are_counted() -> None:
    before = hold(("a", 10, None), ("b", None, "no target"), ("c", 5, None), ("d", 1.0, None))
    after = hold(("a", 13, None), ("b", 4, None), ("c", None, "gap"), ("d", 1 + 1e-12, None))
    figure, reason = compare(HOLD, before, after)
    assert figure == FigureMove(
        "altitude_hold", "altitude_rmse_ft", 4, 3, 1, 1, "a", "10.0", "13.0", 3.0
    )
    assert (reason.column, reason.moved, reason.largest) == ("altitude_hold_reason", 2, None)


def test_rows_that_only_one_side_has_are_told_apart() -> None:
    before, after = hold(("a", 1, None), ("b", 1, None)), hold(("a", 1, None), ("z", 1, None))
    (apart,) = compare(HOLD, before, after)
    assert (apart.column, apart.rows_gone, apart.rows_new, apart.at) == ("", 1, 1, "b")


def test_each_flag_that_moved_is_told_with_the_ratio_that_moved_it() -> None:
    flag = FlagMove("TH04", "trim", False, "ratio to the standard 1.80 to 0.90 in session s1", "")
    moved = Moved("0.1.0", "0.2.0", "a", "b", (), 9, (), (flag,))
    assert list(moved_lines(moved))[-1].strip() == (
        "flag cleared by this: TH04 trim: ratio to the standard 1.80 to 0.90 in session s1"
    )
