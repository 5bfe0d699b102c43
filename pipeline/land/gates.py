"""What a data check found in a session that was taken all the same."""

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from typing import Any, Final, Literal

Severity = Literal["note", "warning", "suspect", "not_scored"]

MOST_FINDINGS: Final = 50
"""More findings of one check than this say nothing new."""


@dataclass(frozen=True)
class Gate:
    """One finding: which check, how grave, in which channel, how many samples (or tasks), from when
    to when.

    note: worth knowing; warning: some samples were set aside; suspect: the channel is doubtful;
    not_scored: what rests on the channel is measured but not scored.
    """

    gate: str
    severity: Severity
    channel: str | None
    affected: int
    from_s: float | None
    to_s: float | None
    detail: str

    def as_dict(self) -> dict[str, Any]:
        """The same as a row of the stored list."""
        return asdict(self)


def distinct(gates: Iterable[Gate]) -> tuple[Gate, ...]:
    """The gates without a second one of the same check, channel and start, in a steady order."""
    found: dict[tuple[str, str, float], Gate] = {}
    for gate in gates:
        start = -1e12 if gate.from_s is None else gate.from_s
        found.setdefault((gate.gate, gate.channel or "", start), gate)
    return tuple(found[key] for key in sorted(found))
