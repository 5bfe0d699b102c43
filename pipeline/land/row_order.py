"""Which rows of a log stay so that time strictly increases, and what the others were."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.land.log_cells import Floats

Indexes = NDArray[np.int64]
_NONE: Indexes = np.empty(0, np.int64)


@dataclass(frozen=True)
class RowOrder:
    """Indexes of the rows that stay, of exact duplicates, of rows whose time runs back, of rows
    whose time repeats with other values (the first of them stays).
    """

    kept: Indexes
    duplicates: Indexes
    backwards: Indexes
    repeats: Indexes


def settle_order(ms: Indexes, channels: Sequence[Floats]) -> RowOrder:
    """The rows to keep; `ms` holds whole milliseconds. One whole-array test where nothing is
    wrong.
    """
    everything = np.arange(len(ms))
    if len(ms) < 2 or np.diff(ms).min() > 0:
        return RowOrder(everything, _NONE, _NONE, _NONE)
    duplicates = _duplicates(ms, channels)
    rest = np.delete(everything, duplicates)
    plain = _increasing(ms, rest)
    despiked = _increasing(ms, rest, _forward_spikes(ms[rest]))
    backwards, repeats = min((plain, despiked), key=lambda found: len(found[0]) + len(found[1]))
    kept = np.setdiff1d(rest, np.concatenate((backwards, repeats)), assume_unique=True)
    return RowOrder(kept, duplicates, backwards, repeats)


def _duplicates(ms: Indexes, channels: Sequence[Floats]) -> Indexes:
    """Rows that equal an earlier row in time and in every channel."""
    order = np.argsort(ms, kind="stable")
    is_same = np.diff(ms[order]) == 0
    shared = np.zeros(len(ms), bool)
    shared[order[1:][is_same]] = True
    shared[order[:-1][is_same]] = True
    rows = np.flatnonzero(shared)
    if not len(rows):
        return _NONE
    parts = [
        ms[rows].astype(np.float64),
        *(channel[rows].astype(np.float64) for channel in channels),
    ]
    table = np.ascontiguousarray(np.column_stack(parts))
    keys = table.view(np.dtype((np.void, table.dtype.itemsize * table.shape[1]))).ravel()
    _, first = np.unique(keys, return_index=True)
    return np.delete(rows, first)


def _forward_spikes(ms: Indexes) -> Indexes:
    """Rows that alone jump ahead: without them the rows around are in order."""
    before = np.concatenate((ms[:1] - 1, ms[:-1]))[:-1]
    return np.flatnonzero((ms[:-1] > ms[1:]) & (ms[1:] > before))


def _increasing(ms: Indexes, rows: Indexes, without: Indexes = _NONE) -> tuple[Indexes, Indexes]:
    """Of `rows`, those that lie behind a row already seen (`without` counts as such) and those that
    repeat one.
    """
    left = np.delete(rows, without)
    highest = np.maximum.accumulate(ms[left])
    before = np.concatenate((ms[left][:1] - 1, highest[:-1]))
    backwards = np.sort(np.concatenate((rows[without], left[ms[left] < before])))
    return backwards, left[ms[left] == before]
