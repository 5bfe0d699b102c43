"""A slip of the hand is answered with the nearest name."""

import pytest

from tests.cli.conftest import Run


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        (("nigthly",), "nightly"),
        (("statsu",), "status"),
        (("nightly", "--inbxo", "x"), "--inbox"),
        (("schedule", "--sytemd"), "--systemd"),
    ],
)
def test_the_nearest_command_or_option_is_named(
    run: Run, typed: tuple[str, ...], meant: str
) -> None:
    done = run(*typed)
    assert (done.code, done.out) == (2, "")
    assert meant in done.err.splitlines()[-1]
