"""What landing remembers of the inbox, so that a night that brought nothing new costs next to
nothing.

Everything in it can be derived again by reading the inbox; deleting the file costs time and nothing
else.
"""

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from typing import Any, Final

from pipeline.land.log_bytes import FileStamp
from pipeline.reports import Reason
from pipeline.store import Warehouse, write_bytes

MEMORY_VERSION: Final = 1


@dataclass(frozen=True)
class RememberedRefusal:
    """Why a file was refused, and a fingerprint of everything that the verdict rested on."""

    depends_on: str
    reasons: tuple[Reason, ...]
    quarantined_as: str | None


@dataclass(frozen=True)
class RememberedFile:
    """One inbox file as last seen."""

    stamp: FileStamp
    sha256: str
    refusal: RememberedRefusal | None = None


@dataclass
class Memory:
    """The files of an inbox by their path in it, and fingerprints of the row refusals already
    reported.
    """

    files: dict[str, RememberedFile] = field(default_factory=dict)
    told: set[str] = field(default_factory=set)

    def sha256_if_unchanged(self, file: str, stamp: FileStamp) -> str | None:
        """The content's hash where size and times say that the file is the one that was seen."""
        seen = self.files.get(file)
        return seen.sha256 if seen is not None and seen.stamp == stamp else None


def load_memory(warehouse: Warehouse) -> Memory:
    """The memory of the last run; an empty one where there is none or it cannot be used."""
    try:
        content = json.loads(warehouse.memory_file.read_text(encoding="utf-8"))
        if content["version"] != MEMORY_VERSION:
            return Memory()
        files = {name: _remembered(entry) for name, entry in content["files"].items()}
        return Memory(files, set(content["told"]))
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        # Derivable state: a lost or damaged memory means that the inbox is read again.
        return Memory()


def save_memory(warehouse: Warehouse, memory: Memory) -> None:
    """Replace the stored memory, if it says anything else."""
    content = {
        "version": MEMORY_VERSION,
        "files": {name: _plain(entry) for name, entry in sorted(memory.files.items())},
        "told": sorted(memory.told),
    }
    text = json.dumps(content, separators=(",", ":")).encode()
    path = warehouse.memory_file
    if not path.exists() or path.read_bytes() != text:
        write_bytes(text, path)


def _remembered(entry: Mapping[str, Any]) -> RememberedFile:
    refused = entry.get("refusal")
    refusal = None
    if refused is not None:
        reasons = tuple(Reason(**reason) for reason in refused["reasons"])
        refusal = RememberedRefusal(refused["depends_on"], reasons, refused["quarantined_as"])
    return RememberedFile(FileStamp(*entry["stamp"]), entry["sha256"], refusal)


def _plain(entry: RememberedFile) -> dict[str, Any]:
    stamp = entry.stamp
    plain: dict[str, Any] = {
        "stamp": [stamp.size, stamp.modified_ns, stamp.changed_ns],
        "sha256": entry.sha256,
    }
    if entry.refusal is not None:
        plain["refusal"] = asdict(entry.refusal)
    return plain
