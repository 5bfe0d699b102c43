"""The flag rule in SQL equals an independent implementation, and holds its own laws."""

from datetime import timedelta

import numpy as np
import polars as pl
import pyarrow as pa
import pyarrow.compute as pc
import pytest

from tests.simulation.database import START, session_code, session_figures
from tests.simulation.forecast import NEVER, forecasts
from tests.simulation.rule import flag_history, session_levels, shipped_limits
from tests.simulation.world import Cohorts, World, make_cohorts
from tests.tables import build_over

WORLDS = {
    "as assumed": World(),
    "devices that differ": World(device_sd=0.35),
    "few students": World(random_students=4, learners=1, slippers=1, steppers=1, steady=()),
    "noisy days": World(day_sd=0.6, bad_share=0.15, bad_factor=5),
}


def one_cohort(world: World, seed: int) -> Cohorts:
    return make_cohorts(world, 1, seed)


@pytest.mark.parametrize("name", WORLDS)
def test_levels_and_flags_equal_the_arrays(name: str) -> None:
    c, limits = one_cohort(WORLDS[name], seed=7), shipped_limits()
    con = build_over(["session_levels", "flag_history"], session_figures=session_figures(c, 0))
    levels, folded = flag_history(c, limits)
    adjusted = session_levels(c, limits, is_adjusted=True)
    rows = con.sql("SELECT session_id, is_adjusted, level_ln, level_sd FROM session_levels").pl()
    by_code = {(r[0], r[1]): (r[2], r[3]) for r in rows.rows()}
    history = con.sql("FROM flag_history").pl()
    flagged = dict(history.select("session_id", "is_flagged").rows())
    rising = dict(history.select("session_id", "is_slipping").rows())
    seen = 0
    for _, student, place in np.argwhere(c.flown):
        at, code = (0, student, place), session_code(int(student), int(place))
        assert by_code[code, False] == pytest.approx((levels.level[at], levels.sd[at]), abs=1e-11)
        assert by_code[code, True] == pytest.approx(
            (adjusted.level[at], adjusted.sd[at]), abs=1e-11
        )
        assert flagged[code] == folded.flagged[at], code
        seen += 1
    assert seen == len(flagged) == len(rising)
    assert any(flagged.values()) or name == "few students"


def test_forecasts_equal_the_arrays() -> None:
    c, limits = one_cohort(World(learners=16, random_students=3), seed=8), shipped_limits()
    last_day = int(c.day[c.flown].max())
    as_of = pa.table({"as_of_date": [START + timedelta(days=last_day)]})
    con = build_over(["forecasts"], session_figures=session_figures(c, 0), as_of=as_of)
    rows = con.sql("FROM forecasts").pl().to_dicts()
    found = {r["student_id"]: r for r in rows}
    levels, folded = flag_history(c, limits)
    told = forecasts(c, limits, levels, folded, np.full(c.day.shape, last_day))
    expected = {}
    for student, count in enumerate(c.counts[0]):
        at = (0, student, int(count) - 1)
        if told.is_told[at]:
            expected[f"S{student:02d}"] = [
                None if n[at] == NEVER else int(n[at])
                for n in (told.earliest, told.middle, told.latest)
            ]
    names = ("earliest_sessions", "middle_sessions", "latest_sessions")
    assert {s: [r[n] for n in names] for s, r in found.items()} == expected
    assert len(expected) >= 3


def state_of(figures: pa.Table) -> pl.DataFrame:
    names = ["session_levels", "flag_history"]
    con = build_over(names, session_figures=figures)
    return con.sql(
        "SELECT h.*, l.level_ln, l.level_sd FROM flag_history AS h "
        "INNER JOIN session_levels AS l ON h.session_id = l.session_id AND NOT l.is_adjusted "
        "ORDER BY h.session_id"
    ).pl()


def test_the_order_of_arrival_changes_nothing_to_the_bit() -> None:
    figures = session_figures(one_cohort(World(device_sd=0.2), seed=3), 0)
    order = np.random.default_rng(1).permutation(figures.num_rows)
    assert state_of(figures).equals(state_of(figures.take(pa.array(order))))


def test_history_up_to_a_date_knows_nothing_of_later_sessions() -> None:
    figures = session_figures(one_cohort(World(device_sd=0.2), seed=4), 0)
    cut = START + timedelta(days=40)
    early = figures.filter(pc.field("session_date") <= cut)
    whole = state_of(figures).filter(pl.col("session_date") <= cut)
    assert state_of(early).equals(whole)
    assert 0 < early.num_rows < figures.num_rows


def test_what_one_student_flies_later_changes_no_earlier_state_of_another() -> None:
    figures = session_figures(one_cohort(World(), seed=5), 0)
    frame = pl.from_arrow(figures)
    assert isinstance(frame, pl.DataFrame)
    last_of_s00 = frame.filter(pl.col("student_id") == "S00")["session_date"].max()
    without = frame.filter(
        (pl.col("student_id") == "S00") | (pl.col("session_date") <= last_of_s00)
    )
    one = pl.col("student_id") == "S00"
    assert (
        state_of(without.to_arrow().cast(figures.schema))
        .filter(one)
        .equals(state_of(figures).filter(one))
    )


def test_an_extreme_session_among_sessions_inside_never_flags() -> None:
    c = one_cohort(
        World(day_sd=0.1, steady=(0.6,) * 8, random_students=0, learners=0, slippers=0, steppers=0),
        6,
    )
    c.figure[0, :, 5] = np.log(20 * 0.6)
    history = state_of(session_figures(c, 0))
    assert not history["is_flagged"].any()
