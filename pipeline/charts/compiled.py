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
    return vega if chart.series is None else _steady(vega, chart, chart.series)


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


def _steady(vega: Mapping[str, Any], chart: Chart, series: str) -> dict[str, Any]:
    """The same with scales over every value that could be shown, and a legend of those that are.

    Vega-Lite takes a scale's values from the rows that are left: choosing one group would recolour it.
    """
    raw = next(name for name, rows in chart.rows.items() if series in rows.columns)
    scales = {scale["name"]: scale for scale in vega["scales"]}
    left = scales["color"]["domain"]
    drawn = left["data"] if "data" in left else left["fields"][0]["data"]
    every = {"data": "series_all", "field": series, "sort": True}
    shown = f"pluck(data('series_shown'), '{series}')"
    is_any = {"signal": "length(data('series_shown')) ? 1 : 0"}
    told = {"signal": f"'Legend: ' + join({shown}, ', ')"}
    return {
        **vega,
        "data": [
            *vega["data"],
            _names("series_all", raw, series, {"type": "filter", "expr": chart.series_where}),
            _names("series_shown", drawn, series),
        ],
        "scales": [
            {**scale, "domain": every} if name in ("color", "shape", "strokeDash") else scale
            for name, scale in scales.items()
        ],
        "legends": [
            {
                **legend,
                # A legend of nothing has no size at all, which the library cannot lay out.
                "values": {"signal": f"length(data('series_shown')) ? {shown} : [' ']"},
                "encode": {
                    "legend": {"update": {"description": told}},
                    "symbols": {"update": {"opacity": is_any}},
                },
            }
            for legend in vega["legends"]
        ],
    }


def _names(name: str, source: str, series: str, *first: Mapping[str, Any]) -> dict[str, Any]:
    """A dataset of the different values of a column, in order."""
    steps = [
        *first,
        {"type": "aggregate", "groupby": [series]},
        {"type": "collect", "sort": {"field": series}},
    ]
    return {"name": name, "source": source, "transform": steps}


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
