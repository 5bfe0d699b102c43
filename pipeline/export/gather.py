"""From the store to the tables of a release: judge the cells, check the rows, read what may be
shown.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import duckdb
import pyarrow as pa

from pipeline import relations
from pipeline.errors import SettingsError, UsageError
from pipeline.export.choice import CELL_TABLES, TABLES_OF_LEVEL, DisclosureReport, ExportChoice
from pipeline.export.disclosure import (
    LEAST_CURVE_STEP_S,
    LEAST_MINIMUM,
    Cell,
    Contribution,
    withheld_cells,
)
from pipeline.export.keys import Keys
from pipeline.export.left_out import (
    cell_counts,
    is_consent_asked,
    left_out,
    masked,
    stands_out,
)
from pipeline.export.masking import Traits, masked_traits
from pipeline.export.refusals import (
    changed_by_few,
    differenced,
    masks_undone,
    nothing_left,
    shown_before,
    told_apart_by_links,
)
from pipeline.export.register import Release
from pipeline.export.rows import flown_traits, rows_on_record, traits_table
from pipeline.reading import (
    STORED,
    bind_settings,
    definitions,
    kept_files,
    kept_relations,
    open_warehouse,
    read_rows,
)
from pipeline.settings import Settings
from pipeline.store import Warehouse

_JUDGED = ("cell_members", "shareable_students", "shared_weeks", "sessions", "limits")


@dataclass(frozen=True)
class Judged:
    """A release that was judged: what goes on record, the report, and the connection to read it
    from.
    """

    release: Release
    report: DisclosureReport
    withheld: frozenset[str]
    traits: Mapping[str, Traits]
    con: duckdb.DuckDBPyConnection
    choice: ExportChoice
    built: frozenset[str]


def judge(
    warehouse: Warehouse,
    settings: Settings,
    choice: ExportChoice,
    release_id: str,
    earlier: Iterable[Release],
    linked: frozenset[str] = frozenset(),
    threads: int = 1,
) -> Judged:
    """What a release of this choice would show, withhold and give away beside the `earlier` ones.

    `linked` are the releases under the same codes. Writes nothing. Raises UsageError where landed
    files were not measured.
    """
    minimum = _minimum(settings)
    _require_measured(warehouse, settings)
    extra = {"export_choice": choice.table()}
    names = (*_JUDGED, *_measures_read(choice))
    con = open_warehouse(warehouse, settings, names, extra=extra, threads=threads)
    before = tuple(earlier)
    cells = _cells(con)
    withheld = withheld_cells(cells, minimum)
    traits: dict[str, Traits] = {}
    if choice.has_rows:
        flown = flown_traits(con, choice, minimum)
        traits = masked_traits(flown, minimum, [r.traits for r in before if r.release_id in linked])
        release = rows_on_record(con, choice, release_id, traits, cells)
    else:
        shown = tuple(replace(c, parent_id=None) for c in cells if c.cell_id not in withheld)
        release = Release(release_id, cells=shown, facts={"choice": choice.as_dict()})
    wanted = ("released_left_out", *(() if choice.has_rows else CELL_TABLES))
    built = _build(con, wanted, withheld, traits)
    counts = ({}, {}) if choice.has_rows else cell_counts(con)
    refusals = (
        *nothing_left(release, minimum),
        *(tuple(differenced(release, before, minimum)) or changed_by_few(release, before, minimum)),
        *shown_before(release, before, linked),
        *told_apart_by_links(release, before, linked, minimum),
        *masks_undone(release, before, linked),
    )
    report = DisclosureReport(
        level=choice.level,
        minimum_students=minimum,
        shown=counts[0],
        withheld=counts[1],
        is_consent_asked=is_consent_asked(con),
        left_out=left_out(con),
        masked=masked(traits, minimum) if choice.has_rows else {},
        stands_out=stands_out(con, traits, minimum) if choice.has_rows else {},
        compared_releases=len(before),
        refusals=refusals,
    )
    return Judged(release, report, withheld, traits, con, choice, built)


def _measures_read(choice: ExportChoice) -> tuple[str, ...]:
    """The kept measures that a release of this choice rests on: its tables are built later, from these."""
    kept = kept_relations()
    wanted = ("released_left_out", *CELL_TABLES, *TABLES_OF_LEVEL[choice.level])
    needed = relations.needed_for(wanted, (*STORED, *kept))
    return tuple(sorted({i for r in needed for i in r.inputs} & set(kept)))


def released_tables(judged: Judged, keys: Keys | None) -> dict[str, pa.Table]:
    """The tables of a judged release, by relation, each in the order of its key."""
    codes = {} if keys is None else {"pseudonyms": keys.table(judged.release.release_id)}
    wanted = TABLES_OF_LEVEL[judged.choice.level]
    for name, table in codes.items():
        relations.bind_table(judged.con, name, table)
    relations.build(judged.con, wanted, judged.built | codes.keys())
    files = relations.relation_files()
    return {
        name: judged.con.sql(
            f"SELECT * FROM {name} ORDER BY {', '.join(files[name].grain)}"
        ).to_arrow_table()
        for name in wanted
    }


def _build(
    con: duckdb.DuckDBPyConnection,
    wanted: Iterable[str],
    withheld: Iterable[str],
    traits: Mapping[str, Traits],
) -> frozenset[str]:
    """Build the relations wanted over what disclosure control has decided; all that is built then."""
    decided = {
        "withheld_cells": _one_column("cell_id", withheld),
        "shown_traits": traits_table(traits),
    }
    for name, table in decided.items():
        relations.bind_table(con, name, table)
    there = {r.name for r in relations.needed_for(_JUDGED)} | set(kept_relations()) | set(decided)
    return frozenset(there | set(relations.build(con, wanted, there)))


def devices_of(judged: Judged) -> frozenset[str]:
    """The devices that the rows of a release were flown on."""
    sessions = {session_id for _, session_id in judged.release.rows}
    rows = read_rows(judged.con, "SELECT session_id, device_id FROM sessions")
    return frozenset(str(d) for s, d in rows if d is not None and s in sessions)


def _require_measured(warehouse: Warehouse, settings: Settings) -> None:
    found = definitions(settings)
    missing = len(warehouse.sample_files()) - len(
        kept_files(warehouse, found.digest, found.kept[0])
    )
    if missing > 0:
        raise UsageError(
            f"{missing} samples files are not measured under these settings; run levelhold score first"
        )


def _minimum(settings: Settings) -> int:
    con = relations.connect()
    relations.build(con, ["limits"], bind_settings(con, settings))
    query = "SELECT CAST(share_minimum_students AS INTEGER), share_curve_step_s FROM limits"
    [[value, step]] = read_rows(con, query)
    minimum = int(str(value))
    if float(str(step)) < LEAST_CURVE_STEP_S:
        raise SettingsError(
            f"limits.share_curve_step_s: {step} is too fine, single events could be read off; give "
            f"{LEAST_CURVE_STEP_S} or more"
        )
    if minimum < LEAST_MINIMUM:
        raise SettingsError(
            f"limits.share_minimum_students: {minimum} is too few; give {LEAST_MINIMUM} or more"
        )
    return minimum


def _cells(con: duckdb.DuckDBPyConnection) -> tuple[Cell, ...]:
    parts: dict[str, set[Contribution]] = defaultdict(set)
    parents: dict[str, str | None] = {}
    query = "SELECT cell_id, parent_cell_id, student_id, contribution_id FROM cell_members"
    for cell_id, parent_id, student_id, digest in read_rows(con, query):
        parts[str(cell_id)].add(Contribution(str(student_id), str(digest)))
        parents[str(cell_id)] = None if parent_id is None else str(parent_id)
    return tuple(Cell(name, parents[name], frozenset(found)) for name, found in parts.items())


def _one_column(name: str, values: Iterable[str]) -> pa.Table:
    return pa.table({name: pa.array(sorted(values), pa.string())})
