"""The part of what was gathered that one student's page may read: nothing of others, nothing of today."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from pipeline.pages.by_student import Row
from pipeline.pages.gather import OF_STUDENTS, Gathered
from pipeline.pages.made_of import digest_of_inputs, program_digest
from pipeline.pages.traces import TRACES

_OWN: Final = (
    "flags",
    "new_flags",
    "page_evidence",
    "page_findings",
    "student_states",
    "worth_a_word",
)
_SHARED: Final = ("limits", "standards")
_WITHOUT: Final[Mapping[str, tuple[str, ...]]] = {
    "page_student_sessions": ("weeks_ago",),
    "student_states": ("days_since",),
}
"""Columns that change with the date: a student's page has no use for them."""


def own_part(gathered: Gathered, student_id: str) -> Gathered:
    """What a student's page is made of; a page that asks for another relation raises KeyError."""
    own = {name: [_without(row, name) for row in gathered.of(student_id, name)] for name in _OWN}
    names = (*OF_STUDENTS, *((TRACES,) if TRACES in gathered.tables else ()))
    tables = {
        name: gathered.tables[name].only(student_id, _WITHOUT.get(name, ())) for name in names
    }
    return Gathered({**own, **{name: gathered[name] for name in _SHARED}}, tables)


def _without(row: Row, relation: str) -> Row:
    dropped = _WITHOUT.get(relation, ())
    return {name: value for name, value in row.items() if name not in dropped}


def inputs_of(
    own: Gathered, student: Row, common: Mapping[str, Any], sessions: Mapping[str, Any]
) -> str:
    """A digest of all that a student's files are made of.

    `own` are the rows without traces, which are a function of the maneuvers to be drawn, of their
    `sessions` (their rows name the batch, the revision and the digests of what was recorded), of the
    program and of the definitions in `common`.
    """
    rows = {name: list(found) for name, found in own.rows.items()}
    tables = {name: found.table.to_pydict() for name, found in own.tables.items()}
    return digest_of_inputs(program_digest(), student, common, sessions, rows, tables)
