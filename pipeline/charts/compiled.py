"""A chart compiled once to Vega: pages bring rows and choices, and the browser compiles nothing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from typing import Any, Final

import vl_convert

from pipeline.charts.chart import Chart

VEGA_LITE_VERSION: Final = "6.4"
_CHANNELS: Final = ("fill", "stroke", "shape", "strokeDash")


def compiled(chart: Chart) -> dict[str, Any]:
    """The chart's Vega specification, without rows; colour, shape and dash share one legend."""
    vega: dict[str, Any] = vl_convert.vegalite_to_vega(chart.spec(), vl_version=VEGA_LITE_VERSION)
    if "legends" in vega:
        vega["legends"] = [_one_legend(vega["legends"])]
    return vega


@cache
def chart_library() -> str:
    """The library that draws compiled charts, as one script that needs no network."""
    library: str = vl_convert.javascript_bundle(vl_version=VEGA_LITE_VERSION)  # type: ignore[call-arg]
    return library


def _one_legend(legends: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """Legends of the same groups as one: Vega-Lite keeps them apart where layers differ."""
    scales = {c: legend[c] for legend in legends for c in _CHANNELS if c in legend}
    wanted: tuple[str, ...]
    if "shape" in scales:
        base = next(legend for legend in legends if "shape" in legend)
        wanted = ("fill", "stroke", "shape")
    else:
        base = next(legend for legend in legends if "strokeDash" in legend)
        scales.setdefault("stroke", scales.get("fill"))
        wanted = ("stroke", "strokeDash")
    is_coloured = "fill" in scales or "stroke" in scales
    dropped = (*_CHANNELS, "symbolType", *(("encode",) if is_coloured else ()))
    rest = {k: v for k, v in base.items() if k not in dropped}
    kind = {} if "shape" in scales else {"symbolType": "stroke"}
    return {**rest, **kind, **{c: scales[c] for c in wanted if c in scales}}


def with_rows(
    vega: Mapping[str, Any],
    rows: Mapping[str, Sequence[Mapping[str, Any]]],
    choices: Mapping[str, Any],
) -> dict[str, Any]:
    """A compiled chart with its rows and choices put in, ready to be drawn."""
    data = [
        {**entry, "values": list(rows[entry["name"]])} if entry["name"] in rows else entry
        for entry in vega["data"]
    ]
    signals = [
        {**signal, "value": choices[signal["name"]]} if signal["name"] in choices else signal
        for signal in vega.get("signals", ())
    ]
    return {**vega, "data": data, "signals": signals}
