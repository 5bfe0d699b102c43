"""The clocks and the memory gauge of the machine, handed to a night so that it reads none itself."""

import os
import resource
import sys
from collections.abc import Callable
from dataclasses import dataclass, field
from time import perf_counter


@dataclass(frozen=True)
class PeakMemory:
    """The most memory that was resident in this process, and in the largest worker that has ended.

    None where the system does not tell it in a known unit.
    """

    own_bytes: int | None
    worker_bytes: int | None


def peak_memory() -> PeakMemory:
    """By getrusage(2), which counts kilobytes on Linux and other units elsewhere."""
    if sys.platform != "linux":
        return PeakMemory(None, None)
    own, workers = (
        resource.getrusage(who).ru_maxrss * 1024
        for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
    )
    return PeakMemory(own, workers or None)


def processor_s() -> float:
    """The processor's time, of the program and the system, that this process and its ended children had."""
    used = os.times()
    return used.user + used.system + used.children_user + used.children_system


@dataclass(frozen=True)
class Meters:
    """What a night reads: seconds since some moment, seconds of the processor, and the peak of memory."""

    elapsed_s: Callable[[], float] = perf_counter
    processor_s: Callable[[], float] = processor_s
    peak_memory: Callable[[], PeakMemory] = peak_memory


@dataclass
class Stopwatch:
    """The seconds that each stage took, in order, and those that it had the processor."""

    elapsed_s: Callable[[], float]
    processor_s: Callable[[], float]
    took_s: dict[str, float] = field(default_factory=dict)
    used_s: dict[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._since = self.elapsed_s(), self.processor_s()

    def done(self, stage: str) -> None:
        """A stage ended; the next one begins."""
        now, used = self.elapsed_s(), self.processor_s()
        self.took_s[stage] = round(now - self._since[0], 3)
        self.used_s[stage] = round(used - self._since[1], 3)
        self._since = now, used
