"""Which line of a CSV text a row stands in; the text is walked only when a fault has to be
named.
"""

from collections.abc import Sequence
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

_NEWLINE: Final = 10
_RETURN: Final = 13
_QUOTE: Final = 34


class RowLines:
    """The lines of a text's rows. `cut` are ordinals of rows left out (the heading is 1, blank
    lines uncounted), `row_count` how many were kept below the heading.
    """

    def __init__(self, content: bytes, cut: Sequence[int], row_count: int) -> None:
        self._content = content
        self._cut = np.asarray(sorted(cut), np.int64)
        self._count = 1 + row_count + len(cut)

    def of_row(self, index: int) -> int:
        """The line of the index-th row (from 0, below the heading) of those that were kept."""
        return int(self._kept[index + 1])

    def of_cut_rows(self) -> tuple[int, ...]:
        """The lines of the rows left out."""
        return tuple(int(line) for line in self._lines[self._cut - 1]) if len(self._cut) else ()

    @cached_property
    def _kept(self) -> NDArray[np.int64]:
        return np.delete(self._lines, self._cut - 1)

    @cached_property
    def _lines(self) -> NDArray[np.int64]:
        """The line, from 1, of each row; where stray quotes leave it open which that is, the row's
        own number.
        """
        found = self._filled_lines()
        return found if len(found) == self._count else np.arange(1, self._count + 1)

    def _filled_lines(self) -> NDArray[np.int64]:
        """The line of each row that is not blank; a line break inside quotes ends no row."""
        text = np.frombuffer(self._content, np.uint8)
        is_break = text == _NEWLINE
        if b"\r" in self._content:
            # A return ends a line, unless a newline follows and ends it.
            is_break[:-1] |= (text[:-1] == _RETURN) & (text[1:] != _NEWLINE)
            is_break[-1:] |= text[-1:] == _RETURN
        breaks = np.flatnonzero(is_break)
        ends = breaks
        if b'"' in self._content:
            quotes_before = np.searchsorted(np.flatnonzero(text == _QUOTE), breaks)
            ends = breaks[quotes_before % 2 == 0]
        starts = np.concatenate(([0], ends + 1))
        stops = np.concatenate((ends, [len(text)]))
        is_return = text[np.minimum(starts, len(text) - 1)] == _RETURN
        is_blank = (stops == starts) | ((stops == starts + 1) & is_return)
        lines: NDArray[np.int64] = np.searchsorted(breaks, starts[~is_blank]) + 1
        return lines
