"""One chart as a picture: SVG, PNG or PDF, drawn without a browser and without a network."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import Any, Final

import vl_convert

from pipeline.charts.chart import Chart
from pipeline.charts.compiled import compiled, with_rows
from pipeline.charts.look import INK

PAPER_INK: Final = "#1f2328"
PAPER: Final = "#ffffff"
WIDTH: Final = 720


def _svg(vega: dict[str, Any]) -> bytes:
    text: str = vl_convert.vega_to_svg(vega, allowed_base_urls=[])
    return text.encode()


def _png(vega: dict[str, Any]) -> bytes:
    drawn: bytes = vl_convert.vega_to_png(vega, scale=2, allowed_base_urls=[])
    return drawn


def _pdf(vega: dict[str, Any]) -> bytes:
    drawn: bytes = vl_convert.vega_to_pdf(vega, allowed_base_urls=[])
    return drawn


FORMATS: Final[Mapping[str, Callable[[dict[str, Any]], bytes]]] = {
    ".svg": _svg,
    ".png": _png,
    ".pdf": _pdf,
}
"""How each kind of file is drawn; none of them may load anything."""


def still(
    chart: Chart,
    rows: Mapping[str, Sequence[Mapping[str, Any]]],
    choices: Mapping[str, Any],
    suffix: str,
    notes: Sequence[str] = (),
) -> bytes:
    """The chart's picture on white paper, as the bytes of a file of that suffix (one of FORMATS).

    `notes` are lines under its title. The same rows and choices give the same bytes.
    """
    vega = with_rows(compiled(chart), _plain(rows), choices)
    return FORMATS[suffix](_on_paper(vega, [_title(chart, choices), *notes]))


def inline(
    chart: Chart,
    rows: Mapping[str, Sequence[Mapping[str, Any]]],
    choices: Mapping[str, Any],
    width: int,
    height: int,
) -> str:
    """The chart as an SVG element to stand in a page: in the page's own ink, without title or paper.

    `width` and `height` are the plot's, in CSS pixels; the picture scales with its place.
    """
    vega = with_rows(compiled(chart), _plain(rows), choices)
    sized = {
        **vega,
        "signals": [s for s in vega["signals"] if s["name"] != "width"],
        "width": width,
        "height": height,
        "autosize": {"type": "pad", "contains": "padding"},
        "padding": 2,
    }
    drawn: str = vl_convert.vega_to_svg(sized, allowed_base_urls=[])
    return drawn


def _title(chart: Chart, choices: Mapping[str, Any]) -> str:
    """The chart's title with what was chosen, so that a picture alone says what it shows."""
    shown = [v for v in choices.values() if isinstance(v, str) and v not in {"", "all", "none"}]
    return ": ".join([chart.title, *([", ".join(dict.fromkeys(shown))] if shown else [])])


def _on_paper(vega: dict[str, Any], lines: Sequence[str]) -> dict[str, Any]:
    """The chart with a fixed width, dark ink, white paper and its title above it."""
    text: str = json.dumps(vega, allow_nan=False).replace(f'"{INK}"', f'"{PAPER_INK}"')
    inked: dict[str, Any] = json.loads(text)
    signals = [s for s in inked["signals"] if s["name"] != "width"]
    above = inked.get("title", {"text": ""})
    own = above["text"] if isinstance(above["text"], list) else [above["text"]]
    words = [*lines, *(line for line in own if line)]
    return {
        **inked,
        "title": {**above, "text": words, "anchor": "start", "color": PAPER_INK},
        "signals": signals,
        "width": WIDTH,
        "autosize": {"type": "pad", "contains": "padding"},
        "background": PAPER,
        "padding": 12,
    }


def _plain(
    rows: Mapping[str, Sequence[Mapping[str, Any]]],
) -> dict[str, list[dict[str, Any]]]:
    """Rows with dates as text, as a chart's specification holds them."""
    return {
        name: [
            {k: v.isoformat() if isinstance(v, date | datetime) else v for k, v in row.items()}
            for row in found
        ]
        for name, found in rows.items()
    }


def suffix_of(path: Path) -> str | None:
    """The kind of picture that a path asks for, or None where it is none of FORMATS."""
    suffix = path.suffix.lower()
    return suffix if suffix in FORMATS else None
