"""What must not change a figure does not: turning the compass, moving the altitude, the clock, the view."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.flights import Log, Task, Value, connection_over, rows_by, stored_tables
from tests.generated_flights import USUAL, logs, own_limits
from tests.reference.compare import KEYS, Difference, is_same
from tests.signals import NOTHING_FOUND

FEW = settings(USUAL, max_examples=3)
UNTOUCHED = frozenset(["maneuver_id", "session_id"])
ERROR_FIGURES = tuple(f"altitude_{f}_ft" for f in ("bias", "rmse", "mae", "max", "hold95"))
SIGNED = frozenset(["altitude_bias_ft", "altitude_drift_ft_per_min"])
RELATIONS = tuple(r for r in KEYS if r not in ("device_neutrals", "air_readings"))


def dyadic(log: Log) -> Log:
    """The log with altitudes in eighths of a foot and headings in 64ths of a degree: shifts are exact."""
    grain = {"altitude_ft": 8, "heading_deg": 64}
    values = {
        name: [_rounded(v, grain[name]) for v in cells] if name in grain else cells
        for name, cells in log.values.items()
    }
    return replace(log, values=values)


def _rounded(value: Value, per_unit: int) -> Value:
    return None if value is None else round(value * per_unit) / per_unit


def moved(values: Mapping[str, Sequence[Value]], channel: str, by: float) -> dict[str, Any]:
    """The channels with one of them moved; a heading stays in [0, 360)."""
    cells = [None if v is None else v + by for v in values[channel]]
    if channel == "heading_deg":
        cells = [None if v is None else v % 360 for v in cells]
    return {**values, channel: cells}


@dataclass(frozen=True)
class Pair:
    """The rows of one relation for the same thing in two logs."""

    relation: str
    key: tuple[Any, ...]
    first: Mapping[str, Any]
    second: Mapping[str, Any]


def pairs(first: Log, second: Log, relations: Sequence[str] = RELATIONS) -> list[Pair]:
    """Every row of the relations for a log, with that of another one flown beside it."""
    beside = replace(second, session_id="S2")
    con = connection_over(
        stored_tables([first, beside]),
        relations,
        own_limits=own_limits(),
        inferred_maneuvers=NOTHING_FOUND,
    )
    found: list[Pair] = []
    for relation in relations:
        rows = rows_by(con, relation, *KEYS[relation])
        ours = {key: row for key, row in rows.items() if key[0].startswith("S1.")}
        theirs = {
            (key[0].replace("S2.", "S1.", 1), *key[1:]): row
            for key, row in rows.items()
            if key[0].startswith("S2.")
        }
        assert ours.keys() == theirs.keys(), relation
        found += [Pair(relation, key, row, theirs[key]) for key, row in ours.items()]
    return found


def changed(found: Sequence[Pair], expected: Collection[str] = ()) -> list[Difference]:
    """The figures that are not the same in both logs, but for the columns that should change."""
    differences = [
        Difference(p.relation, p.key, column, p.first[column], p.second[column])
        for p in found
        for column in p.first.keys() - UNTOUCHED - set(expected)
    ]
    return [d for d in differences if not is_same(d, 1e-6)]


def retargeted(log: Log, feet: float = 0, degrees: float = 0) -> tuple[Task, ...]:
    return tuple(
        replace(
            t,
            target_altitude_ft=_plus(t.target_altitude_ft, feet),
            target_heading_deg=_turned(t.target_heading_deg, degrees),
        )
        for t in log.tasks
    )


def _plus(value: float | None, by: float) -> float | None:
    return None if value is None else value + by


def _turned(value: float | None, by: float) -> float | None:
    return None if value is None else (value + by) % 360


@FEW
@given(logs().map(dyadic), st.integers(1, 359))
def test_turning_heading_and_target_changes_nothing(log: Log, degrees: int) -> None:
    turned = replace(
        log,
        values=moved(log.values, "heading_deg", degrees),
        tasks=retargeted(log, degrees=degrees),
    )
    assert changed(pairs(log, turned), ["target_heading_deg"]) == []


@FEW
@given(logs().map(dyadic), st.sampled_from([-720, -360, 360, 1080]))
def test_whole_turns_on_the_headings_change_nothing(log: Log, degrees: int) -> None:
    cells = [None if v is None else v + degrees for v in log.values["heading_deg"]]
    around = replace(log, values={**log.values, "heading_deg": cells})
    assert changed(pairs(log, around)) == []


@FEW
@given(logs().map(dyadic), st.integers(-2000, 9000))
def test_moving_altitude_and_target_changes_nothing(log: Log, feet: int) -> None:
    higher = replace(
        log, values=moved(log.values, "altitude_ft", feet), tasks=retargeted(log, feet=feet)
    )
    assert changed(pairs(log, higher), ["target_altitude_ft", "lanchester_period_s"]) == []


@FEW
@given(logs().map(dyadic), st.integers(-90, 90).filter(bool))
def test_an_offset_changes_the_bias_by_as_much_and_the_spread_not_at_all(
    log: Log, feet: int
) -> None:
    off = replace(log, tasks=retargeted(log, feet=-feet))
    found = pairs(log, off, ["altitude_hold"])
    assert changed(found, ERROR_FIGURES) == []
    for p in found:
        before, after = p.first["altitude_bias_ft"], p.second["altitude_bias_ft"]
        assert (before is None) == (after is None)
        assert before is None or after - before == pytest.approx(feet, abs=1e-6)


@FEW
@given(logs().map(dyadic), st.integers(1, 40))
def test_a_later_start_of_the_clock_changes_only_the_times(log: Log, minutes: int) -> None:
    later = replace(
        log,
        t_ms=[t + 60_000 * minutes for t in log.t_ms],
        tasks=[
            replace(
                t,
                start_s=round(t.start_s + 60 * minutes, 3),
                end_s=round(t.end_s + 60 * minutes, 3),
            )
            for t in log.tasks
        ],
    )
    found = pairs(log, later)
    assert changed(found, ["start_s", "end_s"]) == []
    for p in found:
        if "start_s" in p.first:
            assert p.second["start_s"] - p.first["start_s"] == pytest.approx(60 * minutes, abs=1e-6)


@FEW
@given(logs().map(dyadic))
def test_seen_upside_down_only_the_signs_change(log: Log) -> None:
    """Altitude, vertical speed and their targets mirrored: too high becomes too low, for as long."""
    mirrored = {
        "altitude_ft": [None if v is None else 8000 - v for v in log.values["altitude_ft"]],
        "vertical_speed_fpm": [None if v is None else -v for v in log.values["vertical_speed_fpm"]],
    }
    tasks = [
        replace(t, target_altitude_ft=None if (x := t.target_altitude_ft) is None else 8000 - x)
        for t in log.tasks
    ]
    down = replace(log, values={**log.values, **mirrored}, tasks=tasks)
    found = pairs(log, down, ["altitude_hold", "excursions"])
    assert changed(found, SIGNED) == []
    for p in found:
        for column in SIGNED & p.first.keys():
            before, after = p.first[column], p.second[column]
            assert (before is None) == (after is None)
            assert before is None or after == pytest.approx(-before, abs=1e-6)
