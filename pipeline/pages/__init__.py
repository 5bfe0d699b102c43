"""Charts and relations to self-contained pages that need no network and run nothing but their own script."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from itertools import chain
from pathlib import Path
from typing import Any, Final

from pipeline import __version__
from pipeline.pages.assets import asset_files
from pipeline.pages.choices import overview_choices
from pipeline.pages.gather import Gathered, Opened, gather, open_pages
from pipeline.pages.last_run import LastRun, from_landing, newest_run
from pipeline.pages.made_of import MadeOf
from pipeline.pages.other_pages import cohorts_page, definitions_page, devices_page, quality_page
from pipeline.pages.overview import insufficient_reasons, newest_words, overview
from pipeline.pages.publish import publish
from pipeline.pages.shell import render
from pipeline.pages.student_files import student_files
from pipeline.pages.words import day
from pipeline.reading import definitions
from pipeline.reports import LandReport
from pipeline.settings import Settings
from pipeline.store.warehouse import Warehouse

__all__ = ["PagesReport", "open_pages", "write_pages"]

TOP_PAGES: Final = 6
"""The pages that are not a student's."""


@dataclass(frozen=True)
class PagesReport:
    """The pages that were written: the one to open first, how many there are, and their size.

    `anew` are the files of students, and those that all pages share, that were not taken over as they were.
    """

    index: Path
    page_count: int
    student_count: int
    size_bytes: int
    anew: frozenset[str]


def write_pages(
    warehouse: Warehouse,
    settings: Settings,
    now: datetime,
    *,
    landed: LandReport | None = None,
    as_of: date | None = None,
    opened: Opened | None = None,
) -> PagesReport:
    """Write every page into the warehouse's pages/, which is replaced as a whole.

    `now` carries a zone and is told in the pages' foot; `landed` is the landing of the run under way (by
    default the newest run report is told); `as_of` is the date that the pages are told for (by default
    the latest session's); `opened` is what open_pages gave for the same store, settings and date. A page
    of a student changes only when that student's data does, and is made anew only then.
    """
    opened = open_pages(warehouse, settings, as_of) if opened is None else opened
    gathered = gather(opened)
    run = newest_run(warehouse) if landed is None else from_landing(landed)
    common = {
        "school": settings.school_name or "School",
        "version": __version__,
        "digest": definitions(settings).digest,
        "as_of": gathered.as_of,
    }
    told = f"Figures as of {day(gathered.as_of)}; written {day(now)}, {now:%H:%M %Z}."
    night_words = {"written": told, "newest": newest_words(gathered, now.date())}
    made = MadeOf(warehouse.pages)
    files = chain(
        _top_pages(gathered, run, common),
        student_files(gathered, opened, common, made),
        asset_files(gathered, night_words, made),
        made.records(),
    )
    size = publish(files, warehouse.pages)
    students = len(gathered["page_students"])
    return PagesReport(
        index=warehouse.pages / "index.html",
        page_count=TOP_PAGES + 2 * students,
        student_count=students,
        size_bytes=size,
        anew=made.anew,
    )


def _top_pages(
    gathered: Gathered, run: LastRun | None, common: dict[str, Any]
) -> Iterator[tuple[str, str]]:
    """Every page but the students' own by its path, one after the other."""
    top = {**common, "root": "", "data": {"datasets": {}, "charts": []}}
    students = {
        "students": gathered["page_students"],
        "reasons": insufficient_reasons(gathered),
        "choices": overview_choices(gathered),
    }
    for name, context in (
        ("index.html", overview(gathered, run)),
        ("students.html", students),
        ("cohorts.html", cohorts_page(gathered)),
        ("devices.html", devices_page(gathered)),
        ("data-quality.html", quality_page(gathered, run)),
        ("definitions.html", definitions_page(gathered)),
    ):
        yield name, render(f"{name}.j2", **{**top, "current": name, **context})
