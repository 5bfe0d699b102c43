"""A share of the measuring, for job arrays: each job measures the samples files that fall to it."""

from __future__ import annotations

import hashlib
from concurrent.futures import Executor
from dataclasses import dataclass

from pipeline.errors import UsageError
from pipeline.measure import measured_units, units_of, units_with_neutrals
from pipeline.measure.units import rests_on_neutrals
from pipeline.reading import definitions, kept_relations
from pipeline.reports import WorkReport
from pipeline.settings import Settings
from pipeline.store import Warehouse


@dataclass(frozen=True)
class Shard:
    """One of `of` shares, counted from 1."""

    number: int
    of: int

    def holds(self, name: str) -> bool:
        """Whether the unit of this name falls to the share: by a hash, so that all machines agree."""
        digest = hashlib.sha256(name.encode()).digest()
        return int.from_bytes(digest[:8]) % self.of == self.number - 1


@dataclass(frozen=True)
class ShardReport:
    """What one share measured, and how many files of other shares it waits for with its second half."""

    work: WorkReport
    awaited: int


def shard_of(text: str) -> Shard:
    """The share that I/N names. Raises UsageError where it names none."""
    number, _, of = text.partition("/")
    if not (number.isdecimal() and of.isdecimal() and 1 <= int(number) <= int(of)):
        raise UsageError(f"--shard {text}: write I/N, I from 1 to N, for example 3/8")
    return Shard(int(number), int(of))


def measure_shard(
    warehouse: Warehouse,
    settings: Settings,
    shard: Shard,
    *,
    workers: int = 1,
    executor: Executor | None = None,
) -> ShardReport:
    """Measure the samples files of one share; other shares may be at work on the same store.

    What rests on the devices' neutrals needs the first half of every file: as long as other shares are
    not done with theirs, that half is left for another run of the same array.
    """
    digest = definitions(settings).digest
    plain = tuple(n for n in kept_relations() if not rests_on_neutrals(n))
    resting = tuple(n for n in kept_relations() if rests_on_neutrals(n))
    first = units_of(warehouse, settings, digest, plain)
    mine = [unit for unit in first if shard.holds(unit.name)]
    reports = list(measured_units(mine, workers, executor))
    awaited = sum(not unit.is_current() for unit in first)
    if not awaited:
        second = units_with_neutrals(warehouse, settings, digest, resting, None)
        share = [unit for unit in second if shard.holds(unit.name)]
        reports += measured_units(share, workers, executor)
    return ShardReport(WorkReport(tuple(reports)), awaited)
