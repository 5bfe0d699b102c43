"""How an explanation writes what it tells."""

import pytest

from pipeline.explain import words


@pytest.mark.parametrize(
    ("seconds", "said"),
    [
        (0, "00:00.0"),
        (125.4, "02:05.4"),
        (59.96, "01:00.0"),
        (-0.04, "00:00.0"),
        (-5, "-00:05.0"),
        (-75.25, "-01:15.2"),
    ],
)
def test_a_moment_is_minutes_and_seconds_with_a_sign_before_the_session(
    seconds: float, said: str
) -> None:
    assert words.at(seconds) == said
