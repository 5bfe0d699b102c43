"""Data checks of a log that was taken: what is odd about its samples, each under a name of its own.

What each name means stands in `pipeline.schema.gates`.
"""

from pipeline.land.checks.samples import CheckedSamples, check_samples

__all__ = ["CheckedSamples", "check_samples"]
