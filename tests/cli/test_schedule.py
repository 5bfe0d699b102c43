"""`levelhold schedule`: units and crontab lines that the programs which read them accept."""

import re
import shlex
import shutil
import subprocess
from pathlib import Path

import pytest

from pipeline.operate.schedule import Nightly, cron_line, systemd_units
from tests.cli.conftest import Run

ODD = Path('/srv/flight school/50% "logs" $HOME')


def verify(folder: Path) -> subprocess.CompletedProcess[str]:
    """What systemd says of the units in a folder."""
    program = shutil.which("systemd-analyze")
    if program is None:
        pytest.skip("no systemd-analyze on this machine (Debian's package systemd)")
    names = sorted(str(path) for path in folder.iterdir())
    return subprocess.run(
        [program, "verify", "--man=no", *names], capture_output=True, text=True, check=False
    )


def written(night: Nightly, folder: Path) -> Path:
    """The units of a night as files, their command one that is there."""
    folder.mkdir()
    for name, text in systemd_units(night).items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder


def about(units: Path, done: subprocess.CompletedProcess[str]) -> str:
    """Complaints about these units; systemd tells of the machine's other units too."""
    names = [path.name for path in units.iterdir()]
    return "\n".join(line for line in done.stderr.splitlines() if any(n in line for n in names))


@pytest.mark.parametrize("place", [Path("/srv/school"), ODD])
def test_systemd_accepts_the_units(tmp_path: Path, place: Path) -> None:
    night = Nightly(Path("/bin/true"), place / "inbox", place / "warehouse")
    units = written(night, tmp_path / "units")
    done = verify(units)
    assert done.returncode == 0, done.stderr
    assert about(units, done) == ""


def test_systemd_would_complain_of_a_wrong_unit(tmp_path: Path) -> None:
    units = written(Nightly(Path("/bin/true"), ODD, ODD), tmp_path / "units")
    service = units / "levelhold.service"
    service.write_text(service.read_text().replace("ProtectSystem=", "ProtectSistem="))
    assert "ProtectSistem" in verify(units).stderr


def test_the_units_name_the_folders_in_full_and_only_the_warehouse_is_written(
    run: Run, tmp_path: Path
) -> None:
    where = ("--inbox", tmp_path / "inbox", "--warehouse", tmp_path / "warehouse")
    done = run("schedule", "--systemd", "--at", "3:15", *where)
    assert done.code == 0
    assert "OnCalendar=*-*-* 3:15:00" in done.out
    assert f"nightly --quiet --inbox {tmp_path}/inbox --warehouse {tmp_path}/warehouse" in done.out
    assert re.findall("^ReadWritePaths=(.*)$", done.out, re.MULTILINE) == [f"{tmp_path}/warehouse"]
    assert "User=" in done.out
    assert "\n# systemctl daemon-reload && systemctl enable --now levelhold.timer\n" in done.out
    unit = done.out.split("[Service]")[0]
    assert "OnFailure=levelhold-failed.service" in unit
    for line in ("PrivateNetwork=yes", "ProtectSystem=strict", "Persistent=true"):
        assert line in done.out.splitlines()


def test_units_are_written_as_files(run: Run, tmp_path: Path) -> None:
    where = ("--inbox", tmp_path / "inbox", "--warehouse", tmp_path / "warehouse")
    assert run("schedule", "--systemd", "--out", tmp_path / "units", *where).code == 0
    names = sorted(path.name for path in (tmp_path / "units").iterdir())
    assert names == ["levelhold-failed.service", "levelhold.service", "levelhold.timer"]


def test_what_is_printed_for_cron_is_a_crontab(run: Run, tmp_path: Path) -> None:
    done = run("schedule", "--cron", "--inbox", tmp_path / "i", "--warehouse", tmp_path / "w")
    said, line = done.out.splitlines()
    assert said.startswith("# ")
    assert line.startswith("30 2 * * * ")


def test_a_line_for_cron_gives_the_shell_the_same_words() -> None:
    night = Nightly(Path("/opt/bin/levelhold"), ODD / "inbox", ODD / "warehouse", "02:30")
    line = cron_line(night)
    assert line.startswith("30 2 * * * ")
    assert line.count("\n") == 1
    assert re.search(r"(?<!\\)%", line) is None
    # As crontab(5) says: cron turns \% into % before the shell sees the line.
    assert shlex.split(line.split(" ", 5)[5].replace(r"\%", "%")) == list(night.words)


@pytest.mark.parametrize(
    ("flags", "said"),
    [
        ((), "name one of --systemd and --cron"),
        (("--systemd", "--cron"), "name one of --systemd and --cron"),
        (("--cron", "--at", "25:00"), "not a time of day; write it as 02:30"),
    ],
)
def test_an_unclear_schedule_is_wrong_usage(
    run: Run, tmp_path: Path, flags: tuple[str, ...], said: str
) -> None:
    done = run("schedule", *flags, "--inbox", tmp_path, "--warehouse", tmp_path)
    assert done.code == 2
    assert said in done.err
