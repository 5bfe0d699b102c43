"""From random schools to released cells: every figure shown is right, every small group is hidden
from an attacker.
"""

import math
from collections import defaultdict
from datetime import date, timedelta

import numpy as np
import pyarrow as pa
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline.export import ExportChoice
from pipeline.export.disclosure import Cell, Contribution, withheld_cells
from pipeline.relations import bind_table, build, connect
from tests.laws.test_disclosure_attack import reachable, targets

MINIMUM = 5
START = date(2026, 1, 5)
NO_EVENTS = pa.schema(
    [
        ("maneuver_id", pa.string()),
        ("figure", pa.string()),
        ("student_id", pa.string()),
        ("device_class", pa.string()),
        ("session_date", pa.date32()),
        ("time_s", pa.float64()),
        ("is_settled", pa.bool_()),
    ]
)
NO_MANEUVERS = pa.schema([("maneuver_id", pa.string()), ("basis", pa.string())])
Flown = list[tuple[int, int, float]]
"""Sessions as student, day since the start, logarithm of the tolerance ratio."""


def session_figures(flown: Flown) -> pa.Table:
    rows = [
        {
            "session_id": f"s{n:03d}",
            "student_id": f"S{student:02d}",
            "aspect": "altitude",
            "device_class": "simulator",
            "standard_id": "private",
            "basis": "assigned",
            "session_date": START + timedelta(days=day),
            "is_counted": True,
            "ln_ratio": figure,
            "maneuver_count": 2,
        }
        for n, (student, day, figure) in enumerate(flown)
    ]
    return pa.Table.from_pylist(rows)


def students(cohorts: list[int]) -> pa.Table:
    schema = pa.schema(
        [
            ("student_id", pa.string()),
            ("cohort", pa.string()),
            ("standard_id", pa.string()),
            ("start_date", pa.date32()),
            ("left_out_reason", pa.string()),
        ]
    )
    rows = [
        {
            "student_id": f"S{n:02d}",
            "cohort": f"c{cohort}",
            "standard_id": "private",
            "start_date": START if n % 9 else None,
        }
        for n, cohort in enumerate(cohorts)
    ]
    return pa.Table.from_pylist(rows, schema=schema)


def expected(flown: Flown, cohorts: list[int]) -> dict[str, list[float]]:
    """The logarithms behind each cell, worked out the slow and plain way."""
    weeks: dict[tuple[int, int | None], list[float]] = defaultdict(list)
    for student, day, figure in flown:
        weeks[student, day // 7 + 1 if student % 9 else None].append(figure)
    cells: dict[str, list[float]] = defaultdict(list)
    for (student, week), figures in weeks.items():
        mean = math.fsum(figures) / len(figures)
        stratum = "altitude/simulator/private/assigned"
        cells[stratum].append(mean)
        cells[f"{stratum}/c{cohorts[student]}"].append(mean)
        if week is not None:
            cells[f"{stratum}/c{cohorts[student]}/w{week:02d}"].append(mean)
    return cells


FLOWN = st.lists(
    st.tuples(st.integers(0, 29), st.integers(0, 20), st.integers(-20, 20).map(lambda n: n / 16)),
    min_size=1,
    max_size=90,
)
COHORTS = st.lists(st.integers(1, 4), min_size=30, max_size=30)


@settings(max_examples=12, deadline=None, suppress_health_check=list(HealthCheck))
@given(FLOWN, COHORTS)
def test_shown_figures_are_right_and_hidden_ones_out_of_reach(
    flown: Flown, cohorts: list[int]
) -> None:
    released_cells_are_right_and_safe(flown, cohorts)


@pytest.mark.slow
@settings(max_examples=250, deadline=None, suppress_health_check=list(HealthCheck))
@given(FLOWN, COHORTS)
def test_hundreds_of_schools_hold(flown: Flown, cohorts: list[int]) -> None:
    released_cells_are_right_and_safe(flown, cohorts)


def released_cells_are_right_and_safe(flown: Flown, cohorts: list[int]) -> None:
    con = connect()
    bound = {
        "session_figures": session_figures(flown),
        "shareable_students": students(cohorts),
        "export_choice": ExportChoice().table(),
        "followed_events": NO_EVENTS.empty_table(),
        "maneuvers": NO_MANEUVERS.empty_table(),
        "own_limits": pa.table({"name": ["share_minimum_students"], "value": [float(MINIMUM)]}),
    }
    for name, table in bound.items():
        bind_table(con, name, table)
    built = build(con, ["cell_members"], bound)
    held: dict[str, tuple[str | None, set[Contribution]]] = {}
    query = "SELECT cell_id, parent_cell_id, student_id, contribution_id FROM cell_members"
    for cell_id, parent_id, student_id, digest in con.execute(query).fetchall():
        held.setdefault(cell_id, (parent_id, set()))[1].add(Contribution(student_id, digest))
    cells = [Cell(name, parent, frozenset(parts)) for name, (parent, parts) in held.items()]
    withheld = withheld_cells(cells, MINIMUM)
    bind_table(
        con, "withheld_cells", pa.table({"cell_id": pa.array(sorted(withheld), pa.string())})
    )
    build(con, ["released_cells"], {*bound, *built, "withheld_cells"})
    rows = con.sql("FROM released_cells").pl().to_dicts()

    figures = expected(flown, cohorts)
    shown = {row["cell_id"]: row for row in rows if not row["is_withheld"]}
    assert shown.keys() == figures.keys() - withheld
    for name, row in shown.items():
        assert row["student_count"] >= MINIMUM
        assert row["median"] == pytest.approx(math.exp(float(np.median(figures[name]))), abs=6e-4)
        assert row["q1"] == pytest.approx(
            math.exp(float(np.quantile(figures[name], 0.25))), abs=6e-4
        )
        assert row["ln_mean"] == pytest.approx(
            math.fsum(figures[name]) / len(figures[name]), abs=6e-4
        )
    for row in rows:
        if row["is_withheld"]:
            assert all(row[n] is None for n in ("student_count", "median", "ln_mean", "met_share"))
    published = [cell for cell in cells if cell.cell_id in shown]
    for group in targets(cells, MINIMUM):
        assert not reachable(published, group, frozenset())
