"""Processes of other machines, played on this one: a scheduler and workers, started by hand on loopback."""

import contextlib
import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Mapping
from datetime import timedelta
from pathlib import Path

from pipeline.store import Warehouse
from tests.inboxes import NOW, ROSTER, School, log_text, session_line

ROOT = Path(__file__).resolve().parents[2]
TASKS = (
    "start_s,end_s,kind,target_altitude_ft,target_heading_deg\n"
    "0,45,level,4000,90\n45,90,level,4003,91\n"
)
PATIENCE_S = 60.0


def school_of(root: Path, nights: int) -> School:
    """A school of as many batches as nights, one session of 90 s each, none of them measured."""
    school = School(root)
    school.put("roster.csv", ROSTER)
    lines: list[str] = []
    for night in range(nights):
        deliver(school, lines, night)
        school.night(NOW + timedelta(days=night))
    return school


def deliver(school: School, lines: list[str], night: int) -> None:
    """Put one more session into the inbox; `lines` are the rows of sessions.csv so far."""
    session_id = f"N{night:02d}"
    at = f"2026-03-{1 + night:02d}T08:00:00+00:00"
    lines.append(session_line(session_id, f"TH0{1 + night % 2}", at))
    school.sessions(*lines)
    text = log_text(
        360,
        altitude_ft=[4000 + (i + 3 * night) % (9 + night) for i in range(360)],
        airspeed_kt=[90 + i % 3 for i in range(360)],
        pitch_control=[0.01 * (i % (3 + night)) for i in range(360)],
        pitch_trim=[0.1 + 0.01 * (i // 90) for i in range(360)],
    )
    school.put(f"logs/{session_id}.csv", text)
    school.put(f"tasks/{session_id}.csv", TASKS)


def likeness(school: School, root: Path) -> School:
    """The same school in another folder."""
    shutil.copytree(school.root, root)
    return School(root)


def measured_bytes(store: Warehouse) -> Mapping[str, bytes]:
    """Every byte of what was measured, by file."""
    files = (p for p in store.measures.rglob("*") if p.is_file())
    return {p.relative_to(store.measures).as_posix(): p.read_bytes() for p in files}


def levelhold(*arguments: str | Path, **more: str) -> subprocess.Popen[str]:
    """The command, begun in a process of its own."""
    return begun("-m", "pipeline", *arguments, **more)


def begun(*arguments: str | Path, **more: str) -> subprocess.Popen[str]:
    """A Python of this checkout, begun with some arguments and added environment."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT), **more}
    return subprocess.Popen(
        [sys.executable, *map(str, arguments)],
        cwd=ROOT,
        env=environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def wait_for(condition: Callable[[], bool], what: str) -> None:
    """Return as soon as the condition holds; fail where it does not in a minute."""
    end = time.monotonic() + PATIENCE_S
    while not condition():
        assert time.monotonic() < end, f"waited in vain for {what}"
        time.sleep(0.05)


class Machines:
    """A scheduler on a free port of the loopback, and workers that are added one by one."""

    def __init__(self, folder: Path, *options: str | Path) -> None:
        self._folder = folder
        self._options = options
        self._file = folder / "scheduler.json"
        self._processes: list[subprocess.Popen[str]] = []
        self._begin(
            "scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard", "--no-show"
        )
        wait_for(self._file.exists, "the scheduler")

    @property
    def address(self) -> str:
        """Where the scheduler listens."""
        import json

        return str(json.loads(self._file.read_text())["address"])

    def add_worker(self, **more: str) -> subprocess.Popen[str]:
        """One more worker of one thread, which may take its time to be there on a busy machine."""
        options = ("--host", "127.0.0.1", "--nthreads", "1", "--no-nanny", "--no-dashboard")
        local = ("--local-directory", self._folder / f"worker-{len(self._processes)}")
        return self._begin("worker", *options, *local, **more)

    def freeze_scheduler(self) -> None:
        """Let the scheduler stand still: it keeps its connections and answers nothing."""
        self._processes[0].send_signal(signal.SIGSTOP)

    def _begin(self, what: str, *options: str | Path, **more: str) -> subprocess.Popen[str]:
        log = (self._folder / f"{what}-{len(self._processes)}.log").open("wb")
        process = subprocess.Popen(
            [
                sys.executable,
                "-m",
                "dask",
                what,
                "--scheduler-file",
                self._file,
                *options,
                *self._options,
            ],
            cwd=ROOT,
            env={**os.environ, "PYTHONPATH": str(ROOT), **more},
            stdout=log,
            stderr=log,
        )
        log.close()
        self._processes.append(process)  # type: ignore[arg-type]
        return process  # type: ignore[return-value]

    def stop(self) -> None:
        """End every process, the last begun first."""
        for process in reversed(self._processes):
            if process.poll() is None:
                process.send_signal(signal.SIGKILL)
            process.wait()


@contextlib.contextmanager
def machines(folder: Path, *options: str | Path) -> Iterator[Machines]:
    """A scheduler for the time of the block; its workers end with it."""
    folder.mkdir(parents=True, exist_ok=True)
    found = Machines(folder, *options)
    try:
        yield found
    finally:
        found.stop()
