"""What a change of definitions moved: which figures, by how much, where the most; which flags, and why."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

import duckdb
import pyarrow as pa

from pipeline import __version__
from pipeline.errors import LevelholdError
from pipeline.operate.causes import Cause, causes
from pipeline.operate.figures import FigureMove, compare
from pipeline.operate.former import (
    Definitions,
    definitions_of_today,
    former_definitions,
    open_by,
    shared_moment,
)
from pipeline.relations import RelationFile, needed_for
from pipeline.settings import Settings
from pipeline.store import Warehouse

_FLOORS: Final = range(4, 7)
"""The floors whose figures are compared: measures of maneuvers, what devices add, scores."""

_FLAGS: Final = """
    SELECT
        COALESCE(a.student_id, b.student_id) AS student_id,
        COALESCE(a.aspect, b.aspect) AS aspect,
        b.student_id IS NOT NULL AS is_raised,
        a.reason AS reason_before,
        b.reason AS reason_after
    FROM flags_before AS a
    FULL JOIN flags_after AS b USING (student_id, aspect)
    WHERE a.student_id IS NULL OR b.student_id IS NULL
    ORDER BY 1, 2
"""

_RATIOS: Final = """
    SELECT a.session_id, a.tolerance_ratio, b.tolerance_ratio
    FROM scores_before AS a
    FULL JOIN scores_after AS b USING (session_id, aspect)
    WHERE
        COALESCE(a.student_id, b.student_id) = ?
        AND aspect = ?
        AND a.tolerance_ratio IS DISTINCT FROM b.tolerance_ratio
    ORDER BY ABS(LN(b.tolerance_ratio / a.tolerance_ratio)) DESC NULLS LAST, 1
"""


@dataclass(frozen=True)
class FlagMove:
    """A flag that the change alone raised (or cleared), on the sessions that both definitions measured.

    `why` says in a sentence which of the student's ratios moved; `reason` is that of the flag.
    """

    student_id: str
    aspect: str
    is_raised: bool
    why: str
    reason: str


@dataclass(frozen=True)
class Moved:
    """An account of a change of definitions, over the sessions that were measured before and after it.

    `untold` says in a sentence what could not be compared; None where all could.
    """

    version_before: str
    version_after: str
    definitions_before: str
    definitions_after: str
    causes: tuple[Cause, ...]
    sessions: int
    figures: tuple[FigureMove, ...] = ()
    flags: tuple[FlagMove, ...] = ()
    untold: str | None = None


def what_moved(warehouse: Warehouse, settings: Settings) -> Moved | None:
    """Compare the figures and flags of the last night that ended well with those of today's definitions.

    None where the definitions are the same, or none are on record. To be called with the lock held, when
    all is measured. New sessions play no part: both sides are told the same ones.
    """
    current = definitions_of_today(settings)
    former = former_definitions(warehouse, current)
    if former is None:
        return None
    found: tuple[Cause, ...] = ()
    try:
        found = causes(former, current)
        return _account(warehouse, former, current, found)
    except (LevelholdError, duckdb.Error) as error:
        why = f"{str(error).splitlines()[0]}; the figures of today are not touched by it"
        return _moved(former, current, found, 0, untold=why)


def _account(
    warehouse: Warehouse, former: Definitions, current: Definitions, found: tuple[Cause, ...]
) -> Moved:
    moment = shared_moment(warehouse, former, current)
    if not moment.sample_files():
        why = "no session was measured before and after it"
        return _moved(former, current, found, 0, untold=why)
    names = compared(current.relations(), former.relations())
    before = open_by(moment, former, [*names, "flags"])
    after = open_by(moment, current, [*names, "flags"])
    figures = tuple(
        move
        for name, relation in names.items()
        for move in compare(relation, _table(before, name), _table(after, name))
    )
    ((sessions,),) = after.execute("SELECT COUNT(*) FROM sessions").fetchall()
    return _moved(former, current, found, sessions, figures, tuple(_flags(before, after)))


def _moved(
    former: Definitions,
    current: Definitions,
    found: tuple[Cause, ...],
    sessions: int,
    figures: tuple[FigureMove, ...] = (),
    flags: tuple[FlagMove, ...] = (),
    untold: str | None = None,
) -> Moved:
    return Moved(
        version_before=former.version,
        version_after=__version__,
        definitions_before=former.digest,
        definitions_after=current.digest,
        causes=found,
        sessions=sessions,
        figures=figures,
        flags=flags,
        untold=untold,
    )


def compared(
    today: Mapping[str, RelationFile], before: Mapping[str, RelationFile]
) -> dict[str, RelationFile]:
    """The relations of figures that both have with the same grain, save those that read samples anew."""
    kept = [name for name, relation in today.items() if relation.is_kept]
    return {
        name: relation
        for name, relation in today.items()
        if relation.floor in _FLOORS
        and name in before
        and before[name].grain == relation.grain
        and not _reads_samples(name, kept, today)
    }


def _reads_samples(name: str, kept: list[str], files: Mapping[str, RelationFile]) -> bool:
    needed = needed_for([name], [n for n in kept if n != name], files)
    return any(r.name == "stored_samples" for r in needed)


def _flags(
    before: duckdb.DuckDBPyConnection, after: duckdb.DuckDBPyConnection
) -> Iterator[FlagMove]:
    con = duckdb.connect()
    for side, source in (("before", before), ("after", after)):
        con.register(f"flags_{side}", _table(source, "flags"))
        con.register(f"scores_{side}", _table(source, "session_scores"))
    for student, aspect, is_raised, reason_before, reason_after in con.execute(_FLAGS).fetchall():
        ratios = con.execute(_RATIOS, [student, aspect]).fetchall()
        reason = reason_after if is_raised else reason_before
        yield FlagMove(student, aspect, is_raised, _why(ratios), str(reason))


def _why(ratios: list[tuple[str, float | None, float | None]]) -> str:
    """Which of a student's ratios in an aspect moved, the one that moved most first."""
    if not ratios:
        return "no ratio of theirs moved: the rule or its limits did"
    session, old, new = ratios[0]
    said = f"{_shown(old)} to {_shown(new)} in session {session}"
    more = "the one session that moved" if len(ratios) == 1 else f"the most of {len(ratios)}"
    return f"ratio to the standard {said}, {more}"


def _shown(ratio: float | None) -> str:
    return "unknown" if ratio is None else f"{ratio:.2f}"


def _table(con: duckdb.DuckDBPyConnection, name: str) -> pa.Table:
    return con.sql(f"FROM {name}").to_arrow_table()
