"""hold_bands: the band about the target that holds most of the time."""

import pytest

from tests.placed import NONE_PATCHY, patchy, placed
from tests.tables import rows_of

HEAD = "t_ms | step_ms | next_step_ms"
SAMPLES = placed(
    f"{HEAD} | altitude_error_ft | heading_error_deg\n0 | - | 950 | 30 | -1\n950 | 50 | - | -90 | 7"
)


def test_altitude_and_heading_each_have_their_band() -> None:
    rows = rows_of(
        "hold_bands",
        placed_samples=SAMPLES,
        patchy_channels=NONE_PATCHY,
        patchy_observations=patchy(),
    )
    assert {r["channel"]: r["hold95"] for r in rows} == {
        "altitude": 30,
        "heading": pytest.approx(1),
    }


def test_patchy_headings_are_read_from_their_own_observations() -> None:
    rows = rows_of(
        "hold_bands",
        placed_samples=SAMPLES,
        patchy_channels=f"{NONE_PATCHY}\n1 | heading",
        patchy_observations=patchy(
            f"{HEAD} | channel:text | value\n0 | - | 9 | heading | 190\n9 | 9 | - | bank | 80"
        ),
    )
    assert {r["channel"]: r["hold95"] for r in rows} == {"altitude": 30, "heading": 190}


def test_without_observed_time_there_is_no_band() -> None:
    rows = rows_of(
        "hold_bands",
        placed_samples=placed(f"{HEAD} | altitude_error_ft\n0 | - | - | 5"),
        patchy_channels=NONE_PATCHY,
        patchy_observations=patchy(),
    )
    assert rows == []
