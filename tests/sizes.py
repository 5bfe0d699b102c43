"""How large long tests are: a size that fits CI, or the full one where LEVELHOLD_SIZES is `full`."""

import os

IS_FULL = os.environ.get("LEVELHOLD_SIZES") == "full"


def size(usual: int, full: int) -> int:
    """The usual size of a long test, or the full one."""
    return full if IS_FULL else usual
