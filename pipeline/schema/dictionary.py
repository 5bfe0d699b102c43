"""The one field dictionary: what every column of every relation means, its unit, how it is made."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources


@dataclass(frozen=True)
class Entry:
    """One column: its unit ("" for codes and words), what it means, how it is made ("" if as stored)."""

    unit: str
    meaning: str
    formula: str


@cache
def entries() -> Mapping[str, Entry]:
    """Every entry by column name, or by `relation.column` where one relation differs."""
    text = (resources.files("pipeline.schema") / "dictionary.toml").read_text(encoding="utf-8")
    return {name: Entry(*row) for name, row in tomllib.loads(text).items()}


def entry_for(relation: str, column: str) -> Entry | None:
    """What `column` means in `relation`; None where the dictionary lacks it."""
    return entries().get(f"{relation}.{column}") or entries().get(column)
