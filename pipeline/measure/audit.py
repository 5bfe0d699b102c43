"""Looking the kept figures over: were they made from what lies in the store now?"""

from __future__ import annotations

from collections.abc import Iterable

import pyarrow as pa

from pipeline.measure import NEUTRALS, Unit, rests_on_neutrals, units_with_neutrals
from pipeline.reading import definitions, kept_relations
from pipeline.reports import Finding
from pipeline.settings import Settings
from pipeline.store import Warehouse


def audit_measures(warehouse: Warehouse, settings: Settings) -> list[Finding]:
    """Kept figures whose fingerprint is not that of their samples, neutrals and definitions.

    What is not measured yet is no fault. Figures that rest on neutrals are judged where all others are
    as they should be: neutrals are made of those. To be called for a store whose files are sound.
    """
    digest = definitions(settings).digest
    plain = tuple(n for n in kept_relations() if not rests_on_neutrals(n))
    resting = tuple(n for n in kept_relations() if rests_on_neutrals(n))
    first = _units(warehouse, digest, settings, plain)
    found = list(_wrong(first))
    if not found and all(unit.is_current() for unit in first):
        found += _wrong(units_with_neutrals(warehouse, settings, digest, resting, None))
    return found


def _units(
    warehouse: Warehouse, digest: str, settings: Settings, names: tuple[str, ...]
) -> list[Unit]:
    no_neutrals: pa.Table = NEUTRALS.empty_table()
    return [
        Unit(warehouse.root, path, digest, settings, names, no_neutrals)
        for path in warehouse.sample_files()
    ]


def _wrong(units: Iterable[Unit]) -> Iterable[Finding]:
    for unit in units:
        for path in unit.outdated():
            file = path.relative_to(unit.root).as_posix()
            said = f"{file}: made from other samples, neutrals or definitions than those there now"
            mend = "the next night computes it again, or `levelhold score`"
            yield Finding("outdated", file, said, mend, is_damage=False)
