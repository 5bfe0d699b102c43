"""The files that all pages share: the chart library once, the charts without rows, the style, cohort rows."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from typing import Any

from pipeline.charts import CHARTS
from pipeline.charts.compiled import chart_library, compiled
from pipeline.pages.gather import Gathered
from pipeline.pages.made_of import MadeOf, program_digest
from pipeline.pages.publish import Content
from pipeline.pages.rows import as_columns, safe_json
from pipeline.pages.shell import asset


@cache
def chart_specifications() -> str:
    """A script with one specification for each kind of chart; pages bring the rows."""
    return _script("levelholdCharts", {name: compiled(chart) for name, chart in CHARTS.items()})


def shared_rows(gathered: Gathered) -> str:
    """A script with the cohorts' rows, so that a student's page need not change when a cohort does."""
    weeks = CHARTS["student_sessions"].rows["weeks"]
    return _script(
        "levelholdShared", {"weeks": as_columns(gathered[weeks.relation], weeks.columns)}
    )


def night(words: dict[str, str]) -> str:
    """A script with what was true last night, which every page tells in its foot."""
    return _script("levelholdNight", words)


def asset_files(
    gathered: Gathered, night_words: dict[str, str], made: MadeOf
) -> Iterator[tuple[str, Content]]:
    """Every shared file by its path beside the pages; what is compiled is taken over from before."""
    inputs = program_digest()
    for name, make in (
        ("assets/vega.js", chart_library),
        ("assets/charts.js", chart_specifications),
    ):
        before = made.as_before(name, inputs)
        yield name, made.made(name, inputs, make()) if before is None else before
    yield "assets/cohorts.js", shared_rows(gathered)
    yield "assets/night.js", night(night_words)
    yield "assets/page.css", asset("page.css")
    yield "assets/THIRD-PARTY-NOTICES.txt", asset("THIRD-PARTY-NOTICES.txt")


def _script(name: str, content: Any) -> str:  # noqa: ANN401 - any JSON
    return f"window.{name} = {safe_json(content)};\n"
