"""What the report of disclosure control tells: cells shown and withheld, who was left out, who stands out."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping
from dataclasses import dataclass

import duckdb

from pipeline.export.masking import Traits
from pipeline.reading import read_rows

_CELLS = """
    SELECT 'cells', COUNT(*) FILTER (WHERE NOT is_withheld), COUNT(*) FILTER (WHERE is_withheld)
    FROM released_cells
    UNION ALL
    SELECT
        'curves',
        COUNT(DISTINCT cell_id) FILTER (WHERE student_count IS NOT NULL),
        COUNT(DISTINCT cell_id) FILTER (WHERE student_count IS NULL)
    FROM released_curves
    ORDER BY ALL
"""
_LEFT_OUT = """
    SELECT counted, figure_of, reason_code, reason_meaning, students_about, share_percent
    FROM released_left_out
    ORDER BY
        ARRAY_POSITION(['students', 'sessions', 'maneuvers', 'events'], counted),
        figure_of, is_withheld, reason_code <> 'in', students_about DESC, reason_code
"""
_NAMES = {"maneuvers": "level maneuvers", "events": "level-offs and power changes"}


@dataclass(frozen=True)
class LeftOut:
    """A reason for which so many are left out ("in": for which they are in); None: withheld, or not
    given.
    """

    counted: str
    figure_of: str
    reason_code: str
    reason_meaning: str
    students_about: int | None
    share_percent: int | None

    def in_words(self) -> str:
        """The same as a sentence without its full stop; "" for what is not told by itself."""
        if self.students_about is None:
            return ""
        what = _NAMES.get(self.counted, self.counted)
        of = "" if self.figure_of == "any" else f" as {self.figure_of}"
        if self.counted == "students":
            who = "in the export" if self.reason_code == "in" else f"who {self.reason_meaning}"
            return f"Students {who}: about {self.students_about}"
        does = "count" if self.reason_code == "in" else "do not count"
        why = "" if self.reason_code == "in" else f" ({self.reason_meaning})"
        of = of.replace(" as ", " in ") if self.counted == "sessions" else of
        told = f"{self.share_percent} %, of about {self.students_about} students"
        return f"{what[:1].upper()}{what[1:]} that {does}{of}{why}: {told}"


def cell_counts(con: duckdb.DuckDBPyConnection) -> tuple[dict[str, int], dict[str, int]]:
    """How many cells each table shows and withholds, those that nobody is in among the latter; of
    curves, whole curves.
    """
    rows = [(str(table), int(str(s)), int(str(w))) for table, s, w in read_rows(con, _CELLS)]
    return {t: shown for t, shown, _ in rows}, {t: withheld for t, _, withheld in rows}


def left_out(con: duckdb.DuckDBPyConnection) -> tuple[LeftOut, ...]:
    """Who and what is in the export and what was left out, by reason, as released_left_out tells."""
    return tuple(
        LeftOut(str(counted), str(of), str(code), str(meaning), _number(about), _number(share))
        for counted, of, code, meaning, about, share in read_rows(con, _LEFT_OUT)
    )


def _number(value: object) -> int | None:
    return None if value is None else int(str(value))


def is_consent_asked(con: duckdb.DuckDBPyConnection) -> bool:
    """Whether the roster tells of any student what the student said about research."""
    query = "SELECT COALESCE(BOOL_OR(research_consent IS NOT NULL), FALSE) FROM students"
    [[is_asked]] = read_rows(con, query)
    return bool(is_asked)


def masked(traits: Mapping[str, Traits], minimum: int) -> dict[str, str]:
    """How many students in rows have something masked; small numbers are words."""
    return {
        "cohort masked": _told(sum(t.cohort is None for t in traits.values()), minimum),
        "standard masked": _told(sum(t.standard_id is None for t in traits.values()), minimum),
    }


def stands_out(
    con: duckdb.DuckDBPyConnection, traits: Mapping[str, Traits], minimum: int
) -> dict[str, str]:
    """What somebody who knows when a student flew could still tell: how many students share the
    weeks of their rows with nobody of the same traits.
    """
    weeks: dict[str, set[str]] = defaultdict(set)
    for student_id, week in read_rows(con, "SELECT DISTINCT student_id, week_no FROM shared_weeks"):
        weeks[str(student_id)].add(str(week))
    patterns = {s: (shown.key, frozenset(weeks[s])) for s, shown in traits.items()}
    sizes = Counter(patterns.values())
    alone = sum(sizes[pattern] == 1 for pattern in patterns.values())
    return {"alone in the weeks that they flew": _told(alone, minimum)}


def _told(count: int, minimum: int) -> str:
    """A count of students in words that give no small group away."""
    return "none" if count == 0 else f"fewer than {minimum}" if count < minimum else str(count)
