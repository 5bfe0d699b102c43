"""Whether another program still has a file open for writing, as far as the system tells."""

import fcntl
import signal
from pathlib import Path


def is_being_written(path: Path) -> bool:
    """Whether a process holds the file open for writing; False where the system cannot say.

    Linux grants a read lease only on a file that nobody has open for writing, and only on local file
    systems and to the file's owner or a privileged process; the lease is given back at once.
    """
    if not hasattr(fcntl, "F_SETLEASE"):
        return False
    with path.open("rb") as file:
        # Should a writer come just now, the system tells us by a signal: one that nobody dies of.
        fcntl.fcntl(file, fcntl.F_SETSIG, signal.SIGURG)
        try:
            fcntl.fcntl(file, fcntl.F_SETLEASE, fcntl.F_RDLCK)
        except BlockingIOError:
            return True
        except OSError:
            return False
        fcntl.fcntl(file, fcntl.F_SETLEASE, fcntl.F_UNLCK)
    return False
