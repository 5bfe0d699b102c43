"""What a group of units reads and writes, for whoever carries it to another machine."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from pipeline.measure.group import WITHOUT_SAMPLES, Group, kept_before
from pipeline.reading import STORED, settings_tables
from pipeline.settings import Settings
from pipeline.store import Warehouse


def files_read(group: Group) -> frozenset[Path]:
    """The files that measuring a group reads. Each batch of them has its sessions file in the store."""
    first = group[0]
    store = Warehouse(first.root)
    bound = {*STORED, "bound_neutrals", *WITHOUT_SAMPLES, *settings_tables(Settings())}
    before = kept_before(first.relations, bound)
    tasks = store.table_path("tasks", first.batch_id)
    return frozenset(
        (
            *(unit.samples_file for unit in group),
            store.table_path("sessions", first.batch_id),
            *((tasks,) if tasks.exists() else ()),
            *store.table_files("devices"),
            *(unit.output(name) for unit in group for name in before),
        )
    )


def files_written(group: Group) -> Iterable[Path]:
    """The files that measuring a group writes."""
    return (unit.output(name) for unit in group for name in unit.relations)
