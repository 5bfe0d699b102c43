"""Measure what is new or stale, and nothing else.

The work unit is one immutable samples file. What a unit gives is a pure function of that file, its
tasks, the neutrals bound to its sessions and the definitions; all are in the fingerprint that is
written into each output's metadata.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from concurrent.futures import Executor

import pyarrow as pa
import pyarrow.compute as pc

from pipeline.measure.group import grouped, measure_group
from pipeline.measure.units import NEUTRALS, Unit, device_lists, rests_on_neutrals
from pipeline.reading import definitions, kept_relations, open_warehouse
from pipeline.reports import Outcome, UnitReport, WorkReport
from pipeline.settings import Settings
from pipeline.spread import spread
from pipeline.store import Warehouse
from pipeline.store.absent import bring

__all__ = [
    "NEUTRALS",
    "Unit",
    "measure_group",
    "measure_warehouse",
    "measured_units",
    "rests_on_neutrals",
    "units_of",
    "units_with_neutrals",
]


def measure_warehouse(
    warehouse: Warehouse,
    settings: Settings,
    *,
    workers: int = 1,
    executor: Executor | None = None,
    known: Mapping[str, pa.Table] | None = None,
) -> WorkReport:
    """Measure every samples file that has no measures, or stale ones; gives one report per file and pass.

    First what depends on the file alone, then, with the neutrals that those figures give, what
    depends on them too. Measures of other definitions stay as they are: a night that ends well removes
    them. `known` may bind device_neutrals, where they are known from elsewhere.
    """
    digest = definitions(settings).digest
    plain = tuple(n for n in kept_relations() if not rests_on_neutrals(n))
    resting = tuple(n for n in kept_relations() if rests_on_neutrals(n))
    first = units_of(warehouse, settings, digest, plain)
    reports = list(measured_units(first, workers, executor))
    second = list(units_with_neutrals(warehouse, settings, digest, resting, known))
    reports += measured_units(second, workers, executor)
    return WorkReport(tuple(reports))


def units_of(
    warehouse: Warehouse, settings: Settings, digest: str, names: tuple[str, ...]
) -> list[Unit]:
    """Every samples file, to be measured by itself: no neutrals are bound."""
    no_neutrals = NEUTRALS.empty_table()
    return [
        Unit(warehouse.root, path, digest, settings, names, no_neutrals)
        for path in warehouse.sample_files()
    ]


def measured_units(
    units: list[Unit], workers: int, executor: Executor | None
) -> Iterator[UnitReport]:
    """A report for every unit: those that are current first, then those that were measured.

    An `executor` sees to it itself that its units find their samples where it runs them.
    """
    stale = []
    for unit in units:
        if unit.is_current():
            yield UnitReport(unit.name, Outcome.CURRENT)
        else:
            stale.append(unit)
    if executor is None:
        bring(unit.samples_file for unit in stale)
    for reports in spread(measure_group, grouped(stale), workers=workers, executor=executor):
        yield from reports


def units_with_neutrals(
    warehouse: Warehouse,
    settings: Settings,
    digest: str,
    names: tuple[str, ...],
    known: Mapping[str, pa.Table] | None,
) -> Iterator[Unit]:
    """Every samples file with the neutrals of its date, as what is measured already gives them."""
    con = open_warehouse(warehouse, settings, ["device_neutrals"], extra=known)
    query = """
        SELECT device_id, session_date, pitch_neutral
        FROM device_neutrals
        ORDER BY device_id, session_date
    """
    neutrals = con.sql(query).to_arrow_table().cast(NEUTRALS)
    devices = device_lists(warehouse)
    for path in warehouse.sample_files():
        day = Unit(warehouse.root, path, digest, settings, names, neutrals).session_date
        rows = neutrals.filter(pc.equal(neutrals["session_date"], pa.scalar(day)))
        yield Unit(warehouse.root, path, digest, settings, names, rows, devices)
