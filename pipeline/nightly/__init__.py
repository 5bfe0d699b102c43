"""One night, in order: land, measure, tell who needs work, write the pages; and leave a run report."""

from pipeline.nightly.report import NightReport, report_content
from pipeline.nightly.run import run_night

__all__ = ["NightReport", "report_content", "run_night"]
