"""Relations to charts, one file per kind of chart. A chart reads rows as they stand and works nothing out."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from pipeline.charts import (
    cohort_trends,
    device_effects,
    device_neutrals,
    group_curves,
    maneuver_strips,
    met_shares,
    session_points,
    settling_curves,
    student_sessions,
)
from pipeline.charts.chart import Chart, Rows

CHARTS: Final[Mapping[str, Chart]] = {
    module.CHART.name: module.CHART
    for module in (
        cohort_trends,
        met_shares,
        settling_curves,
        group_curves,
        session_points,
        student_sessions,
        maneuver_strips,
        device_neutrals,
        device_effects,
    )
}
"""Every kind of chart by name."""

__all__ = ["CHARTS", "Chart", "Rows"]
