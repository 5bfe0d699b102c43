"""Everything that shows that landing cannot be broken, in one go: tests, kill points, spoiled inputs, sizes.

    python -m tests.landing             full sizes: an hour or two of one processor
    python -m tests.landing --quick     the same steps at small sizes: some minutes

Each step prints as it goes; at the end comes one line for each. Exits with 0 only where none failed.
"""

import argparse
import importlib.util
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[1]
TESTS = (
    "tests/unit/test_land_*.py",
    "tests/unit/test_profile_*.py",
    "tests/unit/test_store*.py",
    "tests/unit/test_change.py",
    "tests/unit/test_compact.py",
    "tests/unit/test_forget.py",
    "tests/unit/test_backup.py",
    "tests/unit/test_trend.py",
    "tests/unit/test_gate_meanings.py",
    "tests/laws/test_landing_laws.py",
    "tests/laws/test_hostile_inputs.py",
    "tests/published/test_altimetry.py",
    "tests/published/test_magnetic_model.py",
    "tests/published/test_time_zones.py",
    "tests/cli/test_bad_night.py",
    "tests/cli/test_check.py",
    "tests/cli/test_corrections.py",
    "tests/cli/test_gates_shown.py",
    "tests/cli/test_nightly.py",
    "tests/cli/test_profile.py",
    "tests/cli/test_upkeep.py",
    "tests/faults",
)
"""What holds for landing, its profiles and checks, its store, and the commands that correct and mend it."""


@dataclass(frozen=True)
class Step:
    """One part of the proof: what it tries, and the module and arguments that try it."""

    name: str
    command: tuple[str, ...]


def steps(is_quick: bool) -> Iterator[Step]:
    """The steps at full or at small sizes."""
    files = tuple(str(p.relative_to(ROOT)) for name in TESTS for p in sorted(ROOT.glob(name)))
    marks = "not slow" if is_quick else "slow or not slow"
    yield Step("tests", ("pytest", "-q", "-m", marks, *files))
    most = ("--most", "5") if is_quick else ()
    yield Step("killed, or the disk full, at every point", ("tests.faults", *most))
    inputs, runs = ("500", "2000") if is_quick else ("20000", "100000")
    yield Step("spoiled inputs", ("tests.fuzz.long_run", "--inputs", inputs))
    if importlib.util.find_spec("atheris") is None:
        print("the extra `fuzz` is not installed: the coverage-guided fuzzer is left out")
    else:
        yield Step(
            "coverage-guided", ("tests.fuzz.reader", f"-atheris_runs={runs}", "-max_len=4096")
        )
    share = "0.01" if is_quick else "1"
    yield Step("hostile sizes", ("tests.bench.hostile", "--share", share))


def main(arguments: list[str] | None = None) -> int:
    """Run every step, then tell how each ended; gives the exit code."""
    parser = argparse.ArgumentParser(prog="python -m tests.landing", description=__doc__)
    parser.add_argument("--quick", action="store_true", help="small sizes")
    asked = parser.parse_args(arguments)
    environment = os.environ | ({} if asked.quick else {"LEVELHOLD_SIZES": "full"})
    told, failed = [], 0
    for step in steps(asked.quick):
        print(f"== {step.name}: python -m {' '.join(step.command)}", flush=True)
        start = time.monotonic()
        command = [sys.executable, "-m", *step.command]
        code = subprocess.run(command, cwd=ROOT, env=environment, check=False).returncode
        failed += code != 0
        said = "ok" if code == 0 else f"FAILED ({code})"
        told.append(f"{said:12} {time.monotonic() - start:6.0f} s  {step.name}")
    print(*told, f"{failed} of {len(told)} steps failed", sep="\n")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
