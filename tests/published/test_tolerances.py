"""The shipped standards against the published tolerances.

Read in the regulation: Part-FCL Appendix 9 B (class or type rating and IR proficiency). As restated in
secondary sources: FAA-S-ACS-6 and -8, AMC1 FCL.235, CASR Part 61 MOS Schedule 8. Check the current edition.
"""

import pytest

from tests.tables import rows_of

PUBLISHED = {
    # FAA private pilot, straight-and-level by instruments (PA.VIII.A)
    "faa-private-instruments": {"altitude": 200, "heading": 20, "airspeed": 10},
    # FAA instrument rating (IR.IV.A)
    "faa-instrument": {"altitude": 100, "heading": 10, "airspeed": 10},
    # FAA private pilot, slow flight (PA.VII.A); its airspeed band is one-sided (+10/-0) and not shipped
    "faa-private-slow-flight": {"altitude": 100, "heading": 10},
    # EASA PPL(A) skill test
    "easa-ppl": {"altitude": 150, "heading": 10, "airspeed": 15},
    # EASA class or type rating and IR proficiency check
    "easa-ir-proficiency": {"altitude": 100, "heading": 5},
    # CASA professional level, straight and level
    "casa-professional": {"altitude": 100, "heading": 5, "airspeed": 10},
    # CASA limited panel
    "casa-limited-panel": {"altitude": 200, "heading": 15, "airspeed": 10},
}
OWN = {"first-lessons": {"altitude": 200, "heading": 20, "airspeed": 15}}


def shipped() -> dict[str, dict[str, float]]:
    found: dict[str, dict[str, float]] = {}
    for row in rows_of("standards"):
        found.setdefault(row["standard_id"], {})[row["channel"]] = row["tolerance"]
    return found


def test_exactly_the_checked_standards_are_shipped_with_their_published_numbers() -> None:
    assert shipped() == {**PUBLISHED, **OWN}


def test_only_what_was_read_in_the_regulation_says_so() -> None:
    primary = {r["standard_id"] for r in rows_of("standards") if r["verification"] == "primary"}
    own = {r["standard_id"] for r in rows_of("standards") if r["verification"] == "own"}
    assert (primary, own) == ({"easa-ir-proficiency"}, set(OWN))


@pytest.mark.parametrize("channel", ["altitude", "heading"])
def test_no_standard_is_the_stricter_in_everything(channel: str) -> None:
    """The FAA's private band is wider than EASA's in altitude and heading, narrower in airspeed."""
    faa, easa = shipped()["faa-private-instruments"], shipped()["easa-ppl"]
    assert faa[channel] > easa[channel]
    assert faa["airspeed"] < easa["airspeed"]
