"""inferred_confidences: how often a find was right, by how plain its signs were."""

from pipeline.schema.tables import MANEUVER_KINDS
from tests.tables import rows_of


def test_every_kind_has_a_confidence_and_plainer_signs_never_a_smaller_one() -> None:
    rows = {
        (r["kind"], r["has_power"], r["evidence"]): r["confidence"]
        for r in rows_of("inferred_confidences")
    }
    assert {kind for kind, _, _ in rows} == set(MANEUVER_KINDS)
    assert all(0 < c < 1 for c in rows.values())
    for (kind, has_power, evidence), confidence in rows.items():
        if evidence != "clear" and (has_power or kind != "level"):
            assert confidence <= rows[kind, has_power, "clear"]
