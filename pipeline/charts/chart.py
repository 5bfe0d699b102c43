"""What a chart is: a drawing of rows that relations give, and the words that go with it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

import altair as alt

from pipeline.charts.look import Drawing, config


@dataclass(frozen=True)
class Rows:
    """The rows that a chart draws: a relation's columns as they stand, none of them worked out here.

    `of_student`: the rows belong to one student each and the chart shows one student's.
    """

    relation: str
    columns: tuple[str, ...]
    of_student: bool = False


@dataclass(frozen=True)
class Chart:
    """One kind of chart. Its drawing names its data; whoever shows it brings the rows.

    `reading` is the sentence under it; `description` is what a screen reader says for it;
    `choices` are the names of its parameters and what they are at first. `series` is the column whose
    values have a colour, shape and dash each, which stay the same whatever is chosen (`series_where`
    says among which rows).
    """

    name: str
    title: str
    reading: str
    description: str
    rows: Mapping[str, Rows]
    draw: Callable[[], Drawing]
    choices: Mapping[str, Any] = field(default_factory=dict)
    series: str | None = None
    series_where: str = "true"

    def spec(self, *, is_checked: bool = False) -> dict[str, Any]:
        """The Vega-Lite specification, without rows; checked against its schema where asked (slow)."""
        drawn = self.draw()
        if self.choices:
            drawn = drawn.add_params(*(alt.param(name=n, value=v) for n, v in self.choices.items()))
        spec: dict[str, Any] = drawn.to_dict(validate=is_checked)
        return {**spec, "description": self.description, "config": config()}
