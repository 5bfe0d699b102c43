"""An account of a change of definitions in lines for a person; and the account of a run report, read back."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

from pipeline.operate.causes import Cause
from pipeline.operate.figures import FigureMove
from pipeline.operate.moved import FlagMove, Moved

_SHOWN: Final = 8
"""How many columns, and how many changed relations, are told in lines; the run report has all."""


def moved_lines(moved: Moved | None) -> Iterator[str]:
    """What changed, which figures it moved most widely, and every flag that it raised or cleared."""
    if moved is None:
        return
    yield f"definitions changed since the last night ({_versions(moved)}): {_causes(moved.causes)}"
    if moved.untold is not None:
        yield f"    what moved cannot be told: {moved.untold}"
        return
    yield f"    {_sum(moved)}"
    widest = sorted(moved.figures, key=lambda move: (-move.moved / max(move.compared, 1), move.at))
    yield from (f"    {_figure(move)}" for move in widest[:_SHOWN])
    if (more := len(widest) - _SHOWN) > 0:
        yield f"    and {more} more; the run report lists them all"
    for flag in moved.flags:
        word = "raised" if flag.is_raised else "cleared"
        yield f"    flag {word} by this: {flag.student_id} {flag.aspect}: {flag.why}"


def _versions(moved: Moved) -> str:
    if moved.version_before == moved.version_after:
        return f"version {moved.version_after} as before"
    return f"version {moved.version_before}, now {moved.version_after}"


def _causes(found: Sequence[Cause]) -> str:
    settings = [_setting(cause) for cause in found if cause.what != "relation"]
    relations = [cause.name for cause in found if cause.what == "relation"]
    if len(relations) > _SHOWN:
        relations = [*relations[:_SHOWN], f"{len(relations) - _SHOWN} more"]
    sql = [f"SQL of {', '.join(relations)}"] if relations else []
    return "; ".join([*settings, *sql]) or "only comments in SQL"


def _setting(cause: Cause) -> str:
    return f"{cause.what} {cause.name} {cause.before or 'not set'}, now {cause.after or 'not set'}"


def _sum(moved: Moved) -> str:
    sessions = f"over the {moved.sessions} sessions measured before and after"
    if not moved.figures and not moved.flags:
        return f"{sessions}, no figure and no flag moved"
    figures = sum(move.moved for move in moved.figures)
    flags = "1 flag" if len(moved.flags) == 1 else f"{len(moved.flags)} flags"
    return f"{sessions}, {figures} figures in {len(moved.figures)} columns moved, and {flags}"


def _figure(move: FigureMove) -> str:
    if not move.column:
        return f"{move.relation}: {move.rows_new} rows new, {move.rows_gone} gone, as {move.at}"
    said = f"{move.relation}.{move.column}: {move.moved} of {move.compared}"
    if move.appeared or move.vanished:
        said += f" ({move.appeared} known only now, {move.vanished} no longer)"
    return f"{said}, the most in {move.at}: {_value(move.before)}, now {_value(move.after)}"


def _value(text: str | None) -> str:
    """A value as it is, a long number cut to five digits."""
    if text is None:
        return "unknown"
    try:
        return f"{float(text):.5g}"
    except ValueError:
        return text


def moved_of(told: Mapping[str, Any]) -> Moved | None:
    """The account that a run report holds; None where it holds none, or one of another form."""
    content = told.get("moved")
    if not isinstance(content, dict):
        return None
    try:
        parts = {
            "causes": tuple(Cause(**cause) for cause in content["causes"]),
            "figures": tuple(FigureMove(**figure) for figure in content["figures"]),
            "flags": tuple(FlagMove(**flag) for flag in content["flags"]),
        }
        return Moved(**{**content, **parts})
    except (KeyError, TypeError):
        # Written by another version, whose reports are kept as they are.
        return None
