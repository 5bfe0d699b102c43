"""A coverage-guided fuzzer on the reader of logs: canonical CSV, gzip, Parquet and shipped profiles.

Needs the package `atheris` (Linux, CPython), which nothing else here needs:

    pip install atheris
    python -m tests.fuzz.reader -atheris_runs=100000

What it holds: a log is taken lawfully or refused with short, printable reasons; nothing is raised.
"""

import sys
from collections.abc import Callable
from dataclasses import replace
from typing import Any

try:
    import atheris
except ImportError:
    sys.exit("the package atheris is not installed: pip install atheris")

with atheris.instrument_imports(include=["pipeline"]):
    from pipeline.land.faults import RefusedFile
    from pipeline.land.session_log import read_log
    from tests.fuzz.inputs import RECORDERS, damaged_gzip, foreign, planted
    from tests.fuzz.outcomes import LIMITS, ROW, check_lawful, profile_named, rules_of

ENDINGS = (".csv", ".csv", ".csv.gz", ".parquet")


def read_anything(data: bytes) -> None:
    """The first byte chooses the form, the rest is the file."""
    if not data:
        return
    choice, content = data[0], data[1:]
    ending = ENDINGS[choice % len(ENDINGS)]
    names = (None, *sorted(RECORDERS))
    name = names[choice // len(ENDINGS) % len(names)]
    row = ROW if name is None else replace(ROW, recorder=name)
    try:
        profile = None if name is None else profile_named(name)
        log = read_log(content, f"logs/S1{ending}", ending, row, LIMITS, profile)
    except RefusedFile as refused:
        rules_of(refused)
        return
    check_lawful(log)


def mutate_kindly(data: bytes, max_size: int, seed: int) -> bytes:
    """Now and then a fresh log with planted faults, so that the search starts from real ones."""
    if seed % 16 == 0:
        return MAKERS[seed // 16 % len(MAKERS)](seed)[:max_size]
    return bytes(atheris.Mutate(data, max_size))


def _plain(seed: int) -> bytes:
    return b"\0" + planted(seed)


def _packed(seed: int) -> bytes:
    return b"\2" + damaged_gzip(seed)


def _foreign(seed: int) -> bytes:
    name, content = foreign(seed)
    return bytes([len(ENDINGS) * (1 + sorted(RECORDERS).index(name))]) + content


MAKERS: tuple[Callable[[int], bytes], ...] = (_plain, _packed, _foreign)


def main() -> None:
    """Fuzz until the run's limit; a fault ends it with its traceback and the input."""
    options: dict[str, Any] = {"custom_mutator": mutate_kindly}
    atheris.Setup(sys.argv, read_anything, **options)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
