"""What differs between two definitions: relations whose SQL changed, and settings."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from pipeline import relations
from pipeline.operate.former import Definitions, bind_school

_TOLD_BY_VALUE: Final = frozenset({"settings", "standards"})
"""Relations of which each row that changed is told by itself."""

_COMMENT: Final = re.compile(r"^\s*--.*$", re.MULTILINE)


@dataclass(frozen=True)
class Cause:
    """One thing that changed: a "relation" ("changed", "new" or "gone"), or a "limit", "standard" or "stage".

    `before` and `after` are a setting's values; None where there was, or is, none.
    """

    what: str
    name: str
    change: str
    before: str | None = None
    after: str | None = None


def causes(former: Definitions, current: Definitions) -> tuple[Cause, ...]:
    """What changed: settings first, then relations by name; a changed comment is no change."""
    return (*_settings(former, current), *_relations(former, current))


def _relations(former: Definitions, current: Definitions) -> Iterator[Cause]:
    before, after = (
        {place.partition("/")[2]: _bare(text) for place, text in each.sql.items()}
        for each in (former, current)
    )
    for name in sorted((before.keys() | after.keys()) - _TOLD_BY_VALUE):
        if before.get(name) != after.get(name):
            yield Cause("relation", name, _change(before.get(name), after.get(name)))


def _bare(text: str) -> str:
    """SQL without its comment lines and its spacing."""
    return " ".join(_COMMENT.sub("", text).split())


def _settings(former: Definitions, current: Definitions) -> Iterator[Cause]:
    for what, old, new in (
        ("limit", _limits(former), _limits(current)),
        ("standard", _standards(former), _standards(current)),
        ("stage", _stages(former), _stages(current)),
    ):
        for name in sorted(old.keys() | new.keys()):
            if old.get(name) != new.get(name):
                change = _change(old.get(name), new.get(name))
                yield Cause(what, name, change, old.get(name), new.get(name))


def _change(before: str | None, after: str | None) -> str:
    return "new" if before is None else "gone" if after is None else "changed"


def _limits(given: Definitions) -> Mapping[str, str]:
    return {name: f"{value:g}" for name, value in _rows(given, "settings", "name, value")}


def _standards(given: Definitions) -> Mapping[str, str]:
    rows = _rows(given, "standards", "standard_id, channel, tolerance, unit")
    return {f"{standard} {channel}": f"{value:g} {unit}" for standard, channel, value, unit in rows}


def _stages(given: Definitions) -> Mapping[str, str]:
    return {row["stage"]: row["standard_id"] for row in given.tables.get("stage_standards", ())}


def _rows(given: Definitions, name: str, columns: str) -> list[tuple[Any, ...]]:
    """The rows of a relation of settings, as the definitions make it of the school's own."""
    files = given.relations()
    if name not in files:
        return []
    con = relations.connect()
    relations.build(con, [name], bind_school(con, given), files)
    return con.sql(f"SELECT {columns} FROM {name}").fetchall()
