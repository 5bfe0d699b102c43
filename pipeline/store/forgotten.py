"""Identifiers that are never to land again, kept as keyed hashes: the store no longer holds the words.

The key lies beside them, since every night needs it: whoever has the whole store can test whether a
code that they know was forgotten, and cannot read the codes off.
"""

import hashlib
import hmac
import json
import secrets
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from pipeline.errors import StoreDamaged
from pipeline.store.warehouse import Warehouse

KEY_NAME: Final = "key"


@dataclass(frozen=True)
class Forgotten:
    """What was forgotten; `holds` says of a word whether it was."""

    key: bytes = b""
    hashes: frozenset[str] = frozenset()

    def holds(self, kind: str, identifier: str) -> bool:
        """Whether this identifier of a kind ("student", "session") was forgotten."""
        return bool(self.hashes) and hash_of(self.key, kind, identifier) in self.hashes

    def holds_any(self, identifier: str) -> bool:
        """Whether this was forgotten as a student's or a session's code."""
        return self.holds("student", identifier) or self.holds("session", identifier)

    def __bool__(self) -> bool:
        return bool(self.hashes)


def hash_of(key: bytes, kind: str, identifier: str) -> str:
    """The keyed hash (HMAC-SHA256, RFC 2104) of an identifier, in hexadecimal."""
    return hmac.new(key, f"{kind}\0{identifier}".encode(), hashlib.sha256).hexdigest()


def read_forgotten(warehouse: Warehouse) -> Forgotten:
    """All that was forgotten. Raises StoreDamaged where it cannot be read: it could come back."""
    files = sorted(warehouse.forgotten.glob("f*.json"))
    if not files:
        return Forgotten()
    try:
        key = bytes.fromhex((warehouse.forgotten / KEY_NAME).read_text(encoding="ascii"))
        hashes = (h for f in files for h in json.loads(f.read_text(encoding="utf-8"))["hashes"])
        return Forgotten(key, frozenset(hashes))
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise StoreDamaged(
            "forgotten/: cannot be read, so what was forgotten could land again; "
            "restore the folder from a backup"
        ) from error


def new_key() -> bytes:
    """A key from the operating system's source of randomness."""
    return secrets.token_bytes(32)


def hashes_file(key: bytes, student_id: str, session_ids: Iterable[str]) -> bytes:
    """The content of the file that keeps one student and their sessions from landing again."""
    hashes = [hash_of(key, "student", student_id)]
    hashes += [hash_of(key, "session", session_id) for session_id in session_ids]
    return json.dumps({"hashes": sorted(hashes)}, indent=1).encode()
