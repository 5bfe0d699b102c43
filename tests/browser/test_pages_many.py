"""A school of five hundred students: its pages are written within a minute and stay small enough to open."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from time import process_time

import pytest

from pipeline.pages import write_pages
from pipeline.pages.rows import ROWS_MAXIMUM, count_rows
from pipeline.reading import school_settings
from tests.browser.test_pages_as_files import data_of
from tests.drawn_school import NOW, pilots, write_school

pytestmark = pytest.mark.slow


def test_five_hundred_students_take_less_than_a_minute(tmp_path: Path) -> None:
    students = [
        replace(pilot, cohort=f"c{place % 8}", sessions=3)
        for place, pilot in enumerate(pilots(500))
    ]
    warehouse = write_school(tmp_path, students)
    before = process_time()
    report = write_pages(warehouse, school_settings(warehouse), NOW)
    assert process_time() - before < 60
    assert report.student_count == 500
    for path in report.index.parent.rglob("*.html"):
        text = path.read_text(encoding="utf-8")
        assert count_rows(data_of(text)["datasets"]) <= ROWS_MAXIMUM
        assert len(text) < (2_000_000 if path == report.index else 300_000), path.name
