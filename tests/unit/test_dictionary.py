"""The field dictionary explains every column there is, and nothing that is not there."""

import re

from pipeline.codebook import UNEXPLAINED, column_definitions
from pipeline.schema.dictionary import entries

UNIT_OF_SUFFIX = {
    "ft": "ft",
    "deg": "deg",
    "kt": "kt",
    "fpm": "ft/min",
    "s": "s",
    "ms": "ms",
    "n": "N",
    "per_min": "/min",
    "at": "UTC",
    "date": "date",
}


def test_every_column_is_explained() -> None:
    unexplained = [
        f"{d.relation}.{d.column}" for d in column_definitions() if d.meaning == UNEXPLAINED
    ]
    assert unexplained == []


def test_every_entry_belongs_to_a_column() -> None:
    columns = {d.column for d in column_definitions()}
    qualified = {f"{d.relation}.{d.column}" for d in column_definitions()}
    assert [name for name in entries() if name not in columns | qualified] == []


def test_the_unit_in_a_name_is_the_unit_of_the_column() -> None:
    for definition in column_definitions():
        for suffix, unit in UNIT_OF_SUFFIX.items():
            if re.search(rf"_{suffix}$", definition.column) and "DOUBLE" in definition.type:
                assert unit in definition.unit, definition


def test_a_reason_stands_beside_figures_that_can_be_unknown() -> None:
    columns = {(d.relation, d.column) for d in column_definitions()}
    for relation in ("altitude_hold", "heading_hold", "airspeed_hold", "excursions", "steadiness"):
        assert (relation, f"{relation}_reason") in columns
    assert ("trim_settling", "settling_reason") in columns
    assert ("held_control", "held_control_reason") in columns
    assert ("device_neutrals", "neutral_reason") in columns
