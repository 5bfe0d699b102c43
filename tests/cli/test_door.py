"""The command as a whole: help, version, exit codes, and how soon it answers."""

import re
import subprocess
import sys
from pathlib import Path

import pytest
import typer

from pipeline import __version__
from pipeline.cli import app
from pipeline.errors import LevelholdError
from tests.cli.conftest import Run

ROOT = Path(__file__).parents[2]
HEAVY = {"polars", "duckdb", "altair", "pyarrow", "numpy", "vl_convert", "pint"}
OUTCOMES = {0: "done", 3: "done, but some input was refused"}


def run_apart(*arguments: str, code: str | None = None) -> subprocess.CompletedProcess[str]:
    """What the command left behind: exit code, standard output, standard error."""
    start = ["-m", "pipeline", *arguments] if code is None else ["-c", code, *arguments]
    return subprocess.run(
        [sys.executable, *start], cwd=ROOT, capture_output=True, text=True, check=False
    )


def command_names(group: typer.Typer = app, before: str = "") -> list[str]:
    """Every command as it is typed, those of groups with the group's name before them."""
    names = [
        f"{before}{command.name or command.callback.__name__}"
        for command in group.registered_commands
        if command.callback is not None
    ]
    for inner in group.registered_groups:
        assert inner.typer_instance is not None
        names += command_names(inner.typer_instance, f"{before}{inner.name} ")
    return [name.replace("_", "-") for name in names]


def error_kinds(base: type[LevelholdError] = LevelholdError) -> list[type[LevelholdError]]:
    """The error family, the base first."""
    return [base, *(kind for child in base.__subclasses__() for kind in error_kinds(child))]


def test_the_version_is_the_package_version() -> None:
    assert run_apart("--version").stdout == f"levelhold {__version__}\n"


@pytest.mark.parametrize("flag", ["-h", "--help"])
def test_help_says_what_the_tool_is_for_and_what_it_is_not(flag: str) -> None:
    done = run_apart(flag)
    assert done.returncode == 0
    assert "informs an instructor and replaces none" in done.stdout


def test_an_unknown_command_is_wrong_usage_and_says_so_on_standard_error() -> None:
    done = run_apart("landing")
    assert done.returncode == 2
    assert done.stdout == ""
    assert "No such command 'landing'" in done.stderr


def test_help_loads_nothing_heavy() -> None:
    code = (
        "import sys\n"
        "from pipeline.cli import main\n"
        "try:\n    main(['--help'])\n"
        "finally:\n    print(*sorted(sys.modules), file=sys.stderr)\n"
    )
    loaded = set(run_apart(code=code).stderr.split())
    assert "pipeline.cli" in loaded
    assert not loaded & HEAVY


def test_each_kind_of_error_has_an_exit_code_of_its_own() -> None:
    codes = [kind.exit_code for kind in error_kinds()]
    assert sorted(codes) == [1, 2, 4, 5, 6, 7, 69, 74, 75]
    assert not set(codes) & set(OUTCOMES)


def test_the_readme_and_the_help_list_every_exit_code() -> None:
    expected = {*OUTCOMES, *(kind.exit_code for kind in error_kinds())}
    table = (ROOT / "README.md").read_text(encoding="utf-8")
    assert {int(code) for code in re.findall(r"^\| (\d+) \|", table, re.MULTILINE)} == expected
    listed = run_apart("--help").stdout.split("Exit codes:")[1]
    assert {int(code) for code in re.findall(r"(\d+) [a-z]", listed)} == expected


@pytest.mark.parametrize("name", command_names())
def test_every_command_has_help_with_an_example_and_a_place_in_the_readme(
    run: Run, name: str
) -> None:
    done = run(*name.split(), "--help")
    assert done.code == 0
    assert f"Example: levelhold {name}" in " ".join(done.out.split())
    manual = (ROOT / "README.md").read_text(encoding="utf-8")
    assert re.search(rf"(`|levelhold ){name}\b", manual)
