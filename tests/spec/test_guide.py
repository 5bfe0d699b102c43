"""The contributor's guide: its example of a new metric is followed in a copy of the checkout."""

import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PARTS = ("pipeline", "sql", "tests", "pyproject.toml")


def example_files() -> dict[str, str]:
    """The blocks of the guide's example by the file that the words above each name."""
    guide = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    part = guide.split("## How to add a metric")[1].split("\n## ")[0]
    found = re.findall(r"`([\w/.]+\.\w+)`:\n\n```\w+\n(.*?)```", part, flags=re.DOTALL)
    return dict(found)


@pytest.mark.slow
def test_the_example_of_a_metric_passes_every_test_that_it_speaks_of(tmp_path: Path) -> None:
    skipped = shutil.ignore_patterns("__pycache__", "golden", "browser")
    for name in PARTS:
        if (ROOT / name).is_dir():
            shutil.copytree(ROOT / name, tmp_path / name, ignore=skipped)
        else:
            shutil.copy(ROOT / name, tmp_path)
    files = example_files()
    assert [Path(name).suffix for name in files] == [".sql", ".toml", ".py"]
    for name, text in files.items():
        with (tmp_path / name).open("a", encoding="utf-8") as file:
            file.write(text)
    spec = next(name for name in files if name.endswith(".py"))
    asked = (spec, "tests/spec/test_headers.py", "tests/unit/test_dictionary.py")
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-n0", *asked],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout[-3000:]
    assert "passed" in done.stdout
