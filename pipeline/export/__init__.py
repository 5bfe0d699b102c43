"""The researcher's export: de-identified, documented so that the folder alone is enough, the same
to the bit.

The public names are re-exported here; each file behind them holds one idea.
"""

from pipeline.export.choice import DisclosureReport, ExportChoice, ExportReport, VerifyReport
from pipeline.export.release import check_release, export_release, verify_release

__all__ = [
    "DisclosureReport",
    "ExportChoice",
    "ExportReport",
    "VerifyReport",
    "check_release",
    "export_release",
    "verify_release",
]
