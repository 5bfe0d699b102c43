"""Progress: on a terminal, and nowhere else."""

import os
import pty
import subprocess
import sys
from pathlib import Path

from tests.cli.conftest import write_inbox

ROOT = Path(__file__).parents[2]


def test_a_terminal_is_shown_what_is_going_on_and_a_file_is_not(tmp_path: Path) -> None:
    inbox, warehouse = write_inbox(tmp_path / "inbox"), tmp_path / "warehouse"
    night = ["-m", "pipeline", "ingest", "--inbox", str(inbox), "--warehouse", str(warehouse)]
    master, terminal = pty.openpty()
    done = subprocess.run(
        [sys.executable, *night], cwd=ROOT, stdout=subprocess.PIPE, stderr=terminal, check=False
    )
    os.close(terminal)
    shown = os.read(master, 65536).decode()
    os.close(master)
    assert done.returncode == 3
    assert "reading logs" in shown
    assert b"reading logs" not in done.stdout
    again = subprocess.run([sys.executable, *night], cwd=ROOT, capture_output=True, check=False)
    assert (again.returncode, again.stderr) == (0, b"")
