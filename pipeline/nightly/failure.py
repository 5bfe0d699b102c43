"""What is left on record of a night that ended early."""

from contextlib import suppress
from datetime import datetime

from pipeline.errors import LockHeld
from pipeline.nightly.metrics import write_failure_metrics
from pipeline.operate.run_reports import Failure, write_failure
from pipeline.store import Warehouse


def record_failure(warehouse: Warehouse, now: datetime, error: Exception, exit_code: int) -> None:
    """Keep what a night failed of, for `levelhold status` and for monitoring.

    Nothing is written for a run that gave way to another one, nor where there is no warehouse yet.
    """
    if isinstance(error, LockHeld) or not warehouse.root.is_dir():
        return
    sentence = " ".join(str(error).split()) or type(error).__name__
    # Where nothing can be written, the failure that is being recorded says so itself.
    with suppress(OSError):
        write_failure(warehouse, Failure(now.isoformat(), exit_code, sentence))
        write_failure_metrics(warehouse, now, exit_code)
