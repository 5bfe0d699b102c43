"""Reading one row's cells as what they should be, collecting every fault rather than the first."""

import math
from collections.abc import Sequence
from datetime import UTC, date, datetime

from pipeline.land.faults import make_reason, shown
from pipeline.land.identifiers import fault_of_identifier, fault_of_label
from pipeline.land.papers import PaperRow
from pipeline.reports import Reason

PRIVATE_FILES = frozenset({"roster.csv"})
PRIVATE_COLUMNS = frozenset({"student_id", "instructor_id"})
"""Cells that may hold what identifies a person: a fault in one names the cell and not its text."""

_TRUE = frozenset({"true", "yes", "1"})
_FALSE = frozenset({"false", "no", "0"})


class RowReader:
    """The cells of one row. Each method gives the value, or None where the cell is blank or faulty.

    `reasons` then holds a reason per faulty cell; a row with reasons is not to be used.
    """

    def __init__(self, file: str, row: PaperRow) -> None:
        self.file = file
        self.row = row
        self.reasons: list[Reason] = []
        if row.is_ragged:
            self._blame(
                None, None, "row_length", "the row has more or fewer cells than the heading"
            )

    def text(self, column: str) -> str | None:
        """The cell as it stands, None where blank or where the column is absent."""
        return self.row.cells.get(column) or None

    def identifier(self, column: str, *, is_required: bool = False) -> str | None:
        """A name that is safe in paths, pages and spreadsheets."""
        return self._name(column, is_required, is_identifier=True)

    def label(self, column: str, *, is_required: bool = False) -> str | None:
        """A word for people that is safe in pages and spreadsheets."""
        return self._name(column, is_required, is_identifier=False)

    def _name(self, column: str, is_required: bool, is_identifier: bool) -> str | None:
        text = self._required(column) if is_required else self.text(column)
        if text is None:
            return None
        fault = fault_of_identifier(text) if is_identifier else fault_of_label(text)
        if fault is not None:
            self._blame(column, text, "unsafe_identifier", f"{self._told(column, text)} {fault}")
            return None
        return text

    def choice(self, column: str, known: Sequence[str], *, is_required: bool = False) -> str | None:
        """One of the known words."""
        text = self._required(column) if is_required else self.text(column)
        if text is None or text in known:
            return text
        said = f"{self._told(column, text)} is not one of {', '.join(known)}"
        self._blame(column, text, "unknown_word", said)
        return None

    def number(
        self, column: str, low: float, high: float, *, is_required: bool = False
    ) -> float | None:
        """A finite number from low to high, both inside."""
        text = self._required(column) if is_required else self.text(column)
        if text is None:
            return None
        try:
            value = float(text)
        except ValueError:
            value = math.nan
        if math.isfinite(value) and low <= value <= high:
            return value
        said = f"{self._told(column, text)} is not a number from {low:g} to {high:g}"
        self._blame(column, text, "bad_number", said)
        return None

    def day(self, column: str, *, is_required: bool = False) -> date | None:
        """A calendar day, ISO 8601 (2026-03-14)."""
        text = self._required(column) if is_required else self.text(column)
        if text is None:
            return None
        try:
            return date.fromisoformat(text)
        except ValueError:
            said = f"{self._told(column, text)} is not a day written as 2026-03-14"
            self._blame(column, text, "bad_day", said)
            return None

    def moment(self, column: str) -> datetime | None:
        """A required moment, ISO 8601 with an offset, as UTC."""
        text = self._required(column)
        if text is None:
            return None
        try:
            value = datetime.fromisoformat(text)
        except ValueError:
            said = f"{self._told(column, text)} is not a time written as 2026-03-14T09:30:00+00:00"
            self._blame(column, text, "bad_time", said)
            return None
        if value.tzinfo is None:
            said = f"{self._told(column, text)} has no offset from UTC (such as Z or +01:00)"
            self._blame(column, text, "no_offset", said)
            return None
        return self._as_utc(column, text, value)

    def _as_utc(self, column: str, text: str, value: datetime) -> datetime | None:
        try:
            return value.astimezone(UTC)
        except OverflowError:
            self._blame(
                column, text, "bad_time", f"{self._told(column, text)} lies outside the calendar"
            )
            return None

    def yes_or_no(self, column: str) -> bool | None:
        """true, yes, 1 or false, no, 0, in any case."""
        text = self.text(column)
        if text is None:
            return None
        if text.lower() in _TRUE | _FALSE:
            return text.lower() in _TRUE
        self._blame(
            column, text, "bad_yes_or_no", f"{self._told(column, text)} is neither true nor false"
        )
        return None

    def blame(self, column: str | None, rule: str, said: str) -> None:
        """Add a fault that only the caller can see (one that concerns several cells)."""
        self._blame(column, self.text(column) if column else None, rule, said)

    def _is_private(self, column: str | None) -> bool:
        return self.file in PRIVATE_FILES or column in PRIVATE_COLUMNS

    def _told(self, column: str, text: str) -> str:
        """A cell's text in quotes, or only that it is a cell where it may tell of a person."""
        return "the cell" if self._is_private(column) else repr(shown(text))

    def _required(self, column: str) -> str | None:
        text = self.text(column)
        if text is None:
            self._blame(column, None, "blank", "the cell is blank")
        return text

    def _blame(self, column: str | None, value: str | None, rule: str, said: str) -> None:
        self.reasons.append(
            make_reason(
                rule,
                self.file,
                said,
                "mend the row; the others are used",
                row=self.row.line,
                column=column,
                value=None if self._is_private(column) else value,
            )
        )
