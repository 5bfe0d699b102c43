"""Every data check that landing can report is explained, and every explained one is reported."""

import ast
from pathlib import Path

from pipeline.schema.gates import GATE_BY_NAME, GATES, SEVERITY_MEANINGS
from pipeline.schema.tables import SEVERITIES

LAND = Path(__file__).parents[2] / "pipeline" / "land"


def _words(node: ast.expr) -> set[str]:
    return {
        n.value for n in ast.walk(node) if isinstance(n, ast.Constant) and isinstance(n.value, str)
    }


def _reported() -> dict[str, set[str]]:
    """The names that stand first in a call of Gate(...) or are yielded by the order check, each with
    the severities written out beside it.
    """
    found: dict[str, set[str]] = {}
    for path in LAND.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            parts: list[ast.expr] = []
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
                parts = list(node.args) if node.func.id == "Gate" else []
            if isinstance(node, ast.Yield) and isinstance(node.value, ast.Tuple):
                parts = list(node.value.elts)
            if len(parts) >= 2 and isinstance(parts[0], ast.Constant):
                name = str(parts[0].value)
                found.setdefault(name, set()).update(_words(parts[1]) & set(SEVERITIES))
    return found


def test_every_check_is_explained_and_every_explanation_has_its_check() -> None:
    assert set(_reported()) == set(GATE_BY_NAME)
    assert len(GATES) == len(GATE_BY_NAME)


def test_severities_are_those_that_are_explained() -> None:
    assert set(SEVERITY_MEANINGS) == set(SEVERITIES)
    for name, severities in _reported().items():
        assert severities <= set(GATE_BY_NAME[name].severities), name
    for meaning in GATES:
        assert set(meaning.severities) <= set(SEVERITIES)
        assert meaning.meaning
        assert meaning.advice
        assert meaning.affected
