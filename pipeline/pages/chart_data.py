"""The charts of one page: which kinds, with whose rows, at which choices."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from pipeline.charts import CHARTS, Chart
from pipeline.pages.gather import Gathered, Row
from pipeline.pages.rows import as_columns


@dataclass(frozen=True)
class Drawn:
    """One chart on a page: its kind, its place, choices that stay fixed, and a sentence of its own.

    `told` are words above it for the choices named in `by`, their values joined by a slash. A panel is
    hidden while the choices leave it without marks.
    """

    chart: Chart
    id: str
    fixed: Mapping[str, Any] = field(default_factory=dict)
    shared: Mapping[str, Any] = field(default_factory=dict)
    says: str | None = None
    by: tuple[str, ...] = ()
    told: Mapping[str, str] = field(default_factory=dict)
    is_panel: bool = False

    @property
    def caption(self) -> str:
        """The sentence under it: its own, or how to read its kind."""
        return self.says or self.chart.reading

    def entry(self) -> dict[str, Any]:
        """What the page's script needs to draw it."""
        rows = {name: self.shared.get(name, _key(self.chart, name)) for name in self.chart.rows}
        return {
            "id": self.id,
            "chart": self.chart.name,
            "rows": rows,
            "choices": dict(self.fixed),
            **({"by": list(self.by), "told": dict(self.told)} if self.by else {}),
        }


def _key(chart: Chart, name: str) -> str:
    return chart.rows[name].relation


def page_data(
    drawn: Sequence[Drawn], gathered: Gathered, student_id: str | None = None
) -> dict[str, Any]:
    """The JSON of a page: each relation's rows once, and the charts that read them.

    A relation's columns are those that any of its charts draws. Rows that all pages share are left out.
    """
    columns: dict[str, list[str]] = {}
    for one in drawn:
        for name, rows in one.chart.rows.items():
            if name not in one.shared:
                wanted = columns.setdefault(rows.relation, [])
                wanted += [c for c in rows.columns if c not in wanted]
    datasets = {
        relation: as_columns(_rows(gathered, relation, student_id), names)
        for relation, names in columns.items()
    }
    return {"datasets": datasets, "charts": [one.entry() for one in drawn]}


def _rows(gathered: Gathered, relation: str, student_id: str | None) -> Sequence[Row]:
    return gathered[relation] if student_id is None else gathered.of(student_id, relation)


def drawn(name: str, suffix: str = "", **fixed: Any) -> Drawn:  # noqa: ANN401 - a choice is of any type
    """A chart of a kind, placed under its name."""
    place = f"chart-{name}-{suffix}" if suffix else f"chart-{name}"
    return Drawn(CHARTS[name], place.replace("_", "-"), fixed)


def panels(name: str, rows: Sequence[Row], by: tuple[str, ...], group: str) -> list[Drawn]:
    """A chart of a kind for each panel of its rows: groups held to other standards are drawn apart.

    Each says above it who is held to what, for the choices named in `by`.
    """
    found: dict[int, dict[str, dict[str, str | None]]] = {}
    for row in rows:
        key = "/".join(str(row[choice]) for choice in by)
        found.setdefault(row["panel_no"], {}).setdefault(key, {})[row[group]] = row["standards"]
    place = f"chart-{name}".replace("_", "-")
    return [
        Drawn(
            CHARTS[name],
            f"{place}-{panel}",
            {"panel": panel},
            by=by,
            told={key: _held_to(groups) for key, groups in found.get(panel, {}).items()},
            is_panel=True,
        )
        for panel in sorted(found) or (1,)
    ]


def _held_to(groups: Mapping[str, str | None]) -> str:
    names, standards = ", ".join(sorted(groups)), next(iter(groups.values()))
    return f"{names}: held to {standards or 'one limit, the same for all'}"
