"""The errors a user can meet, each kind with the exit code that the command leaves behind.

    LevelholdError ......... 1   a fault of this program
    |-- UsageError ......... 2   the command was called wrongly
    |-- SettingsError ...... 4   the school's settings are not valid
    |-- StoreDamaged ....... 5   a file of the store is not what it was when written
    |-- RelationFailed ..... 6   a relation of sql/ could not be built
    |-- StoreNewer ......... 7   a newer version wrote to the store
    |-- ClusterFailed ...... 69  no scheduler or worker answers, or units end theirs
    |-- CannotWrite ........ 74  the disk is full, or a folder may not be written to
    `-- LockHeld ........... 75  another run is at work on the same warehouse

Exit code 3 (done, but some input was refused) is an outcome, not an error: nothing raises it.
"""

from typing import ClassVar


class LevelholdError(Exception):
    """What went wrong, in one line for the user: what, where (file, row, column), what to do."""

    exit_code: ClassVar[int] = 1


class UsageError(LevelholdError):
    """The command was called with arguments that cannot be carried out."""

    exit_code: ClassVar[int] = 2


class SettingsError(LevelholdError):
    """The school's settings hold an unknown key or a value that is not allowed."""

    exit_code: ClassVar[int] = 4


class StoreDamaged(LevelholdError):
    """A file of the store cannot be read or does not match its fingerprint."""

    exit_code: ClassVar[int] = 5


class RelationFailed(LevelholdError):
    """A relation of sql/ could not be built."""

    exit_code: ClassVar[int] = 6


class StoreNewer(LevelholdError):
    """A newer version wrote a file of the store in a form that this one does not know."""

    exit_code: ClassVar[int] = 7


class ClusterFailed(LevelholdError):
    """A cluster cannot do the work: unreachable, of another version, or its workers die of a unit."""

    exit_code: ClassVar[int] = 69


class CannotWrite(LevelholdError):
    """The system refused to write or to open a file: full disk, read-only folder, no permission."""

    exit_code: ClassVar[int] = 74


class LockHeld(LevelholdError):
    """Another run holds the lock of this warehouse; nothing was changed."""

    exit_code: ClassVar[int] = 75
