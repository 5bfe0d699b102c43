"""The long run: many spoiled inputs, counted by how they ended; a bad one leaves 1.

python -m tests.fuzz.long_run --inputs 20000
"""

import argparse
import sys
import time

from tests.fuzz.outcomes import Tally, try_input


def main(arguments: list[str] | None = None) -> int:
    """Try the inputs, print the counts, and every input that ended badly with its seed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--inputs", type=int, default=20_000)
    parser.add_argument("--seed", type=int, default=1, help="the first seed")
    asked = parser.parse_args(arguments)
    tally, start = Tally(), time.monotonic()
    for seed in range(asked.seed, asked.seed + asked.inputs):
        try_input(seed, tally)
    print(f"{asked.inputs} inputs from seed {asked.seed} in {time.monotonic() - start:.0f} s")
    for outcome in sorted({*tally.counts, "wrong", "traceback"}):
        print(f"{tally.counts[outcome]:>8}  {outcome}")
    print(*tally.bad[:50], sep="\n")
    return 1 if tally.bad else 0


if __name__ == "__main__":
    sys.exit(main())
