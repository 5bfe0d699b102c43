"""channel_steps: how finely a channel was recorded."""

import numpy as np
import pyarrow as pa
import pytest

from tests.logs import samples
from tests.tables import rows_of


def test_the_smallest_change_is_the_resolution_and_a_channel_that_stands_has_none() -> None:
    log = samples(
        60,
        4,
        altitude_ft=lambda t: 25 * np.round((3000 + 5 * t) / 25),
        heading_deg=lambda t: 90 + 0 * t,
        pitch_control=lambda t: 0.004 * np.round(10 * np.sin(t)),
    )
    rows = rows_of("channel_steps", stored_samples=log)
    found = {r["channel"]: r["resolution"] for r in rows}
    assert found == {"altitude": 25, "pitch_control": pytest.approx(0.004, abs=1e-4)}


def test_the_step_from_one_session_or_revision_to_the_next_is_no_change() -> None:
    logs = [
        samples(
            10,
            1,
            session_id=name,
            altitude_ft=lambda t, a=a: a + 10 * (t % 2),
            heading_deg=lambda t: t,
        )
        for name, a in (("s1", 3000), ("s1", 3002), ("s2", 3003))
    ]
    logs[1] = logs[1].set_column(1, samples(1).schema.field(1), pa.array([2] * 10, pa.int32()))
    rows = rows_of("channel_steps", stored_samples=pa.concat_tables(logs))
    assert [r["resolution"] for r in rows if r["channel"] == "altitude"] == [10] * 3
