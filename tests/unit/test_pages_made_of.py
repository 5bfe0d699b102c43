"""A student's files are taken over only where everything that they are made of is the same."""

from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Any

import pyarrow as pa
import pytest

from pipeline.pages.by_student import StudentTable, in_order
from pipeline.pages.gather import OF_STUDENTS, Gathered
from pipeline.pages.made_of import NAME, MadeOf, digest_of_inputs
from pipeline.pages.one_student import inputs_of, own_part
from pipeline.pages.publish import publish
from pipeline.pages.traces import TRACES

ROWS: dict[str, list[dict[str, Any]]] = {
    "flags": [{"student_id": "A", "aspect": "trim"}],
    "new_flags": [],
    "page_evidence": [],
    "page_findings": [],
    "student_states": [
        {"student_id": "A", "state": "improving", "days_since": 3},
        {"student_id": "B", "state": "plateau", "days_since": 5},
    ],
    "worth_a_word": [],
    "limits": [{"flag_minimum_sessions": 3.0}],
    "standards": [{"standard_id": "first-lessons", "tolerance": 150.0}],
}
TABLE: dict[str, list[Any]] = {
    "student_id": ["B", "A", "A"],
    "weeks_ago": [1, 2, 1],
    "tolerance_ratio": [0.5, 1.5, None],
}


Changes = Mapping[str, Any]


def gathered(changed: Changes) -> Gathered:
    rows = {name: changed.get(name, found) for name, found in ROWS.items()}
    table = in_order(pa.table({**TABLE, **changed.get("table", {})}))
    others = in_order(pa.table({"student_id": ["A", "B"]}))
    return Gathered(rows, {**dict.fromkeys(OF_STUDENTS, others), "page_student_sessions": table})


def inputs(changed: Changes | None = None) -> str:
    now = changed or {}
    own = own_part(gathered(now), "A")
    return inputs_of(own, {"student_id": "A"}, now.get("common", {}), now.get("drawn", {}))


def test_the_same_rows_have_the_same_digest() -> None:
    assert inputs() == inputs()


@pytest.mark.parametrize(
    "changed",
    [
        {"flags": []},
        {"student_states": [{"student_id": "A", "state": "slipping", "days_since": 3}]},
        {"limits": [{"flag_minimum_sessions": 4.0}]},
        {"standards": []},
        {"table": {"tolerance_ratio": [0.5, 1.5000000000000002, None]}},
        {"table": {"tolerance_ratio": [0.5, None, 1.5]}},
        {"common": {"school": "Another"}},
        {"drawn": {"session_id": ["S1"], "log_sha256": ["another recording"]}},
    ],
)
def test_whatever_changes_of_a_student_changes_the_digest(changed: Changes) -> None:
    assert inputs(changed) != inputs()


@pytest.mark.parametrize(
    "changed",
    [
        {"flags": [*ROWS["flags"], {"student_id": "B", "aspect": "trim"}]},
        {"student_states": [{"student_id": "A", "state": "improving", "days_since": 4}]},
        {"table": {"tolerance_ratio": [0.7, 1.5, None]}},
        {"table": {"weeks_ago": [1, 3, 2]}},
    ],
)
def test_neither_others_nor_the_date_change_it(changed: Changes) -> None:
    assert inputs(changed) == inputs()


def test_text_cannot_pass_for_other_values() -> None:
    assert digest_of_inputs({"a": "1"}) != digest_of_inputs({"a": 1})
    assert digest_of_inputs(["a', 'b"]) != digest_of_inputs(["a", "b"])
    assert digest_of_inputs(date(2026, 1, 2)) != digest_of_inputs("datetime.date(2026, 1, 2)")


def test_a_page_may_read_nothing_of_others() -> None:
    own = own_part(gathered({}).with_tables({TRACES: StudentTable(pa.table({}))}), "A")
    assert [row["student_id"] for row in own["student_states"]] == ["A"]
    assert [row["tolerance_ratio"] for row in own["page_student_sessions"]] == [1.5, None]
    assert own.of("B", "page_student_sessions") == []
    with pytest.raises(KeyError, match="page_students"):
        own["page_students"]


def test_a_student_s_rows_keep_their_order() -> None:
    many = pa.table({"student_id": ["B", "A"] * 500, "number": range(1000)})
    found = in_order(many)
    assert [
        row["number"]
        for row in found.of(
            "B",
        )
    ] == list(range(0, 1000, 2))
    assert [row["number"] for row in found.of("A")] == list(range(1, 1000, 2))
    assert found.of("C") == []


def put(folder: Path, content: str) -> None:
    made = MadeOf(folder)
    publish([("a.html", made.made("a.html", "inputs", content)), *made.records()], folder)


def test_what_was_made_of_the_same_is_taken_over(tmp_path: Path) -> None:
    folder = tmp_path / "pages"
    put(folder, "page")
    made = MadeOf(folder)
    assert made.as_before("a.html", "inputs") == b"page"
    assert made.anew == frozenset()
    assert dict(made.records())[NAME] == (folder / NAME).read_text()


def test_what_was_made_of_other_things_is_not(tmp_path: Path) -> None:
    put(tmp_path / "pages", "page")
    assert MadeOf(tmp_path / "pages").as_before("a.html", "other inputs") is None
    assert MadeOf(tmp_path / "pages").as_before("b.html", "inputs") is None


def test_a_file_that_somebody_changed_or_removed_is_not(tmp_path: Path) -> None:
    put(tmp_path / "pages", "page")
    (tmp_path / "pages" / "a.html").write_text("pagE")
    assert MadeOf(tmp_path / "pages").as_before("a.html", "inputs") is None
    (tmp_path / "pages" / "a.html").unlink()
    assert MadeOf(tmp_path / "pages").as_before("a.html", "inputs") is None


@pytest.mark.parametrize("content", ["", "[]", '{"a.html": 1}', '{"a.html": ["inputs"]}', "\x00"])
def test_a_spoiled_record_counts_as_none(tmp_path: Path, content: str) -> None:
    put(tmp_path / "pages", "page")
    (tmp_path / "pages" / NAME).write_text(content)
    assert MadeOf(tmp_path / "pages").as_before("a.html", "inputs") is None
