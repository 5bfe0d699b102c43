"""Relations built in a connection: all of them, or with as few as can be kept at a time."""

import duckdb
import pytest

from pipeline import relations
from pipeline.reading import STORED, kept_relations
from pipeline.schema.tables import TABLES


def over_nothing() -> duckdb.DuckDBPyConnection:
    con = relations.connect()
    for kind, schema in TABLES.items():
        relations.bind_files(con, f"stored_{kind}", [], schema)
    return con


def tables_in(con: duckdb.DuckDBPyConnection) -> set[str]:
    return {name for (name,) in con.execute("SELECT table_name FROM duckdb_tables()").fetchall()}


def test_building_sparingly_keeps_the_tables_that_were_asked_for_and_no_other() -> None:
    con = over_nothing()
    relations.build_sparing(con, kept_relations(), STORED)
    files = relations.relation_files()
    assert tables_in(con) == {n for n in kept_relations() if files[n].is_table}
    for name in kept_relations():
        assert con.execute(f"FROM {name}").fetchall() == []


def test_building_plainly_keeps_every_table() -> None:
    con = over_nothing()
    built = relations.build(con, kept_relations(), STORED)
    files = relations.relation_files()
    assert tables_in(con) == {n for n in built if files[n].is_table}
    assert "placed_samples" in tables_in(con)


@pytest.mark.parametrize("name", ["observations", "altitude_hold", "flags"])
def test_a_view_that_was_asked_for_keeps_the_tables_that_it_reads(name: str) -> None:
    con = over_nothing()
    relations.build_sparing(con, [name], STORED)
    assert con.execute(f"FROM {name}").fetchall() == []
