"""The simulation study runs, counts rightly, and (slow) its gates hold."""

import numpy as np
import pytest

from tests.simulation import rule
from tests.simulation.measures import Share
from tests.simulation.study import main_table, run, study
from tests.simulation.world import DAYS, World, make_cohorts


def test_a_world_is_the_same_again_from_its_seed() -> None:
    one, two = (make_cohorts(World(device_sd=0.2), 3, seed=5) for _ in range(2))
    assert np.array_equal(one.figure, two.figure, equal_nan=True)
    assert not np.array_equal(one.figure, make_cohorts(World(), 3, seed=6).figure, equal_nan=True)


def test_the_truth_is_what_the_figures_scatter_about() -> None:
    quiet = World(day_sd=0.0, within_sd=0.0, bad_share=0.0)
    c = make_cohorts(quiet, 2, seed=1)
    assert np.nanmax(np.abs(c.figure - c.truth)[c.flown]) < 1e-12
    assert c.day[c.flown].max() < DAYS


def test_in_a_quiet_world_every_flag_is_right_and_none_is_missing() -> None:
    quiet = World(day_sd=0.01, within_sd=0.05, bad_share=0.0, scatter_sd=0.0)
    tally = run(quiet, 20, 3, rule.shipped_limits())
    assert tally.by_look["steady 1.5", 3].value == 1
    assert tally.raised["steady 0.8"].hits == 0
    assert tally.right_flags.value > 0.99


def test_the_table_of_a_small_study_has_a_line_per_ratio() -> None:
    lines = list(main_table(run(World(), 4, 1, rule.shipped_limits())))
    assert sum(line.lstrip()[:4].strip(" |").replace(".", "").isdigit() for line in lines) == 7


def test_a_share_has_bounds_on_the_careful_side() -> None:
    share = Share(95, 100)
    assert share.bound(is_upper=False) < 0.95 < share.bound(is_upper=True)


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore::RuntimeWarning")
def test_every_gate_of_the_study_holds() -> None:
    lines, is_met = study(1000, "report")
    assert is_met, "\n".join(lines)
