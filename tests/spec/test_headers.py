"""The header of every SQL file is true: what a row is, what is read, and from which floor."""

import json
import re
from collections.abc import Iterator
from pathlib import Path

import duckdb
import pytest

from pipeline.relations import RelationFile, read_relation, relation_files, sql_root

RELATIONS = list(relation_files().values())
each_relation = pytest.mark.parametrize("relation", RELATIONS, ids=lambda r: r.name)


def tables_read(relation: RelationFile) -> set[str]:
    """The relations that the SQL reads, as DuckDB's own parser sees them; files left out."""
    body = re.split(r"^CREATE OR REPLACE \w+ \w+ AS$", relation.text, flags=re.MULTILINE)[1]
    query = body.rstrip().removesuffix(";")
    [(tree,)] = duckdb.connect().execute("SELECT JSON_SERIALIZE_SQL(?)", [query]).fetchall()
    parsed = json.loads(tree)
    assert not parsed["error"], parsed
    steps = set(_step_names(parsed))
    return {name for name in _base_tables(parsed) if name not in steps}


def _step_names(node: object) -> Iterator[str]:
    """The names of common table expressions, at any depth."""
    if isinstance(node, dict):
        if isinstance(steps := node.get("cte_map"), dict):
            yield from (str(step["key"]) for step in steps["map"])
        for part in node.values():
            yield from _step_names(part)
    elif isinstance(node, list):
        for part in node:
            yield from _step_names(part)


def _base_tables(node: object) -> Iterator[str]:
    if isinstance(node, dict):
        if node.get("type") == "BASE_TABLE":
            yield str(node["table_name"])
        for part in node.values():
            yield from _base_tables(part)
    elif isinstance(node, list):
        for part in node:
            yield from _base_tables(part)


def test_no_two_files_make_the_same_relation() -> None:
    names = [path.stem for path in sql_root().glob("*/*.sql")]
    assert sorted(names) == sorted(r.name for r in RELATIONS)


@each_relation
def test_the_header_says_what_one_row_is(relation: RelationFile) -> None:
    assert relation.sentence.startswith("One row is ")
    assert relation.sentence.endswith(".")
    assert relation.units
    assert relation.source


@each_relation
def test_the_inputs_are_what_the_query_reads(relation: RelationFile) -> None:
    assert set(relation.inputs) == tables_read(relation)


@each_relation
def test_inputs_lie_no_higher_than_the_relation(relation: RelationFile) -> None:
    files = relation_files()
    assert [i for i in relation.inputs if files[i].floor > relation.floor] == []


@each_relation
def test_only_the_ground_floor_reads_files(relation: RelationFile) -> None:
    assert relation.floor == 0 or "READ_PARQUET" not in relation.text


@each_relation
def test_a_table_says_why_it_is_no_view(relation: RelationFile) -> None:
    header = relation.text[: relation.text.index("CREATE OR REPLACE")]
    assert not relation.is_table or re.search(r"\btable\b", header, re.IGNORECASE)


def test_a_wrong_header_is_found(tmp_path: Path) -> None:
    """The parser behind these tests sees through CTEs, joins and subqueries."""
    path = tmp_path / "4_measure" / "sample_counts.sql"
    path.parent.mkdir()
    path.write_text(
        "-- One row is a\n-- session.\n-- Inputs: sessions (newest)\n-- Grain: session_id\n"
        "-- Units: none\n-- Source: this project\n"
        "CREATE OR REPLACE VIEW sample_counts AS\n"
        "WITH step AS (SELECT * FROM sessions) SELECT * FROM step\n"
        "WHERE session_id IN (SELECT session_id FROM samples);\n",
        encoding="utf-8",
    )
    relation = read_relation(path)
    assert relation.sentence == "One row is a session."
    assert relation.inputs == ("sessions",)
    assert tables_read(relation) == {"sessions", "samples"}
