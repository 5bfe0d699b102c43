"""Rows of single students: whose they are, what may be shown of them, what of it goes on record."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping

import duckdb
import pyarrow as pa

from pipeline.export.choice import ExportChoice
from pipeline.export.disclosure import Cell
from pipeline.export.masking import Traits
from pipeline.export.register import Release

_TRAITS = pa.schema(
    [
        ("student_id", pa.string()),
        ("cohort", pa.string()),
        ("standard_id", pa.string()),
        ("device_class", pa.string()),
    ]
)


def flown_sessions(
    con: duckdb.DuckDBPyConnection, choice: ExportChoice
) -> list[tuple[str, str, str, str, str]]:
    """Student, session, cohort, standard and class of device of every session that rows may be
    of.
    """
    query = """
        SELECT s.student_id, s.session_id, p.cohort, p.standard_id, s.device_class, s.session_date
        FROM sessions AS s
        INNER JOIN shareable_students AS p ON s.student_id = p.student_id
        WHERE p.left_out_reason IS NULL
        ORDER BY ALL
    """
    first, last = choice.first_date, choice.last_date
    return [
        (str(row[0]), str(row[1]), str(row[2]), str(row[3]), str(row[4]))
        for row in con.execute(query).fetchall()
        if (first is None or row[5] >= first) and (last is None or row[5] <= last)
    ]


def flown_traits(
    con: duckdb.DuckDBPyConnection, choice: ExportChoice, minimum: int
) -> dict[str, Traits]:
    """The quasi-identifiers of each student with rows; a class of device flown by too few is left
    out.
    """
    sessions = flown_sessions(con, choice)
    fliers = Counter(c for _, c in {(student_id, c) for student_id, _, _, _, c in sessions})
    classes: dict[tuple[str, str, str], set[str]] = defaultdict(set)
    for student_id, _, cohort, standard_id, device_class in sessions:
        if fliers[device_class] >= minimum:
            classes[student_id, cohort, standard_id].add(device_class)
    return {
        student_id: Traits(cohort, standard_id, tuple(sorted(found)))
        for (student_id, cohort, standard_id), found in classes.items()
    }


def rows_on_record(
    con: duckdb.DuckDBPyConnection,
    choice: ExportChoice,
    release_id: str,
    traits: Mapping[str, Traits],
    cells: Iterable[Cell],
) -> Release:
    """What goes on record of a release of rows: whatever any cell could take from these students is
    open then.
    """
    opened = frozenset(part for c in cells for part in c.contributions if part.student_id in traits)
    rows = frozenset(
        (student_id, session_id)
        for student_id, session_id, _, _, device_class in flown_sessions(con, choice)
        if student_id in traits and device_class in traits[student_id].device_classes
    )
    keys = {student_id: shown.key for student_id, shown in traits.items()}
    facts = {"choice": choice.as_dict()}
    return Release(release_id, opened=opened, rows=rows, traits=keys, facts=facts)


def traits_table(traits: Mapping[str, Traits]) -> pa.Table:
    """The relation shown_traits: a row for each student and class of device that may be shown."""
    rows = [
        {
            "student_id": student_id,
            "cohort": shown.cohort,
            "standard_id": shown.standard_id,
            "device_class": device_class,
        }
        for student_id, shown in sorted(traits.items())
        for device_class in shown.device_classes
    ]
    return pa.Table.from_pylist(rows, schema=_TRAITS)
