"""A small school whose one night was landed and measured by the command itself."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from pipeline.cli import main

Run = Callable[..., "Done"]


@dataclass(frozen=True)
class Done:
    """What one command left behind."""

    code: int
    out: str
    err: str


@pytest.fixture
def run(capfd: pytest.CaptureFixture[str]) -> Run:
    """A function that runs one command in this process, as the installed command would."""

    def run_command(*arguments: object) -> Done:
        capfd.readouterr()
        try:
            main([str(argument) for argument in arguments])
        except SystemExit as leaving:
            code = leaving.code
        else:
            code = 0
        out, err = capfd.readouterr()
        assert isinstance(code, int | None)
        return Done(code or 0, out, err)

    return run_command


def write_inbox(folder: Path) -> Path:
    """One student, two sessions: a level one that wanders by 40 ft, and a log that is empty."""
    (folder / "logs").mkdir(parents=True)
    (folder / "tasks").mkdir()
    (folder / "roster.csv").write_text(
        "student_id,cohort,start_date,stage\nTH01,winter,2026-01-05,first-lessons\n"
    )
    (folder / "sessions.csv").write_text(
        "session_id,student_id,started_at,device_id,aircraft_type,instructor_id,lesson\n"
        "s1,TH01,2026-02-02T09:00:00+00:00,SIM-1,trainer,I1,straight and level\n"
        "s2,TH01,2026-02-03T09:00:00+00:00,SIM-1,trainer,I1,straight and level\n"
    )
    samples = [f"{t},{3000 + 40 * math.sin(t / 5):.1f},90\n" for t in range(121)]
    (folder / "logs" / "s1.csv").write_text("time_s,altitude_ft,heading_deg\n" + "".join(samples))
    (folder / "logs" / "s2.csv").write_text("")
    (folder / "tasks" / "s1.csv").write_text(
        "start_s,end_s,kind,target_altitude_ft,target_heading_deg\n0,120,level,3000,90\n"
    )
    return folder


@pytest.fixture(scope="session")
def school(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with `inbox` and `warehouse`, landed and measured; tests only read it."""
    folder = tmp_path_factory.mktemp("school")
    inbox = write_inbox(folder / "inbox")
    for arguments in (["ingest", "--inbox", str(inbox)], ["score"]):
        with pytest.raises(SystemExit) as leaving:
            main([*arguments, "--quiet", "--warehouse", str(folder / "warehouse")])
        assert leaving.value.code in (0, 3)
    return folder
