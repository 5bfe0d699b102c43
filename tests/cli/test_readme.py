"""README.md's two commands: a newcomer pastes them, so they are run as they stand."""

import os
import re
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


def readme_commands() -> list[str]:
    """The commands of README.md that start from nothing, in order: the demo, the tests."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    return re.findall(r"^python3 -m venv .*$", text, flags=re.MULTILINE)


def test_the_readme_holds_two_commands_one_for_the_job_and_one_for_the_tests() -> None:
    demo, tests = readme_commands()
    assert demo.endswith("levelhold demo")
    assert tests.endswith("-m pytest")


@pytest.mark.slow
def test_the_first_command_runs_in_a_fresh_clone(tmp_path: Path) -> None:
    clone = tmp_path / "clone"
    subprocess.run(["git", "clone", "-q", str(ROOT), str(clone)], check=True)
    environment = {key: value for key, value in os.environ.items() if key != "VIRTUAL_ENV"}
    done = subprocess.run(
        ["bash", "-c", readme_commands()[0]],
        cwd=clone,
        env=environment,
        capture_output=True,
        text=True,
        timeout=600,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-2000:]
    assert ".html" in done.stdout
