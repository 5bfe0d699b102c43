"""Charts and relations to self-contained pages that need no network and run nothing but their own script."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any

from pipeline import __version__
from pipeline.pages.assets import asset_files
from pipeline.pages.choices import overview_choices
from pipeline.pages.gather import Gathered, gather
from pipeline.pages.last_run import LastRun, from_landing, newest_run
from pipeline.pages.other_pages import cohorts_page, definitions_page, devices_page, quality_page
from pipeline.pages.overview import overview
from pipeline.pages.publish import publish
from pipeline.pages.shell import render
from pipeline.pages.student_pages import handout, student_page
from pipeline.pages.words import day, file_name
from pipeline.reading import definitions
from pipeline.reports import LandReport
from pipeline.settings import Settings
from pipeline.store.warehouse import Warehouse


@dataclass(frozen=True)
class PagesReport:
    """The pages that were written: the one to open first, how many there are, and their size."""

    index: Path
    page_count: int
    student_count: int
    size_bytes: int


def write_pages(
    warehouse: Warehouse,
    settings: Settings,
    now: datetime,
    *,
    landed: LandReport | None = None,
    as_of: date | None = None,
) -> PagesReport:
    """Write every page into the warehouse's pages/, which is replaced as a whole.

    `now` carries a zone and is told in the pages' foot; `landed` is the landing of the run under way (by
    default the newest run report is told); `as_of` is the date that the pages are told for (by default
    the latest session's). A page of a student changes only when that student's data does.
    """
    gathered = gather(warehouse, settings, as_of)
    run = newest_run(warehouse) if landed is None else from_landing(landed)
    common = {
        "school": settings.school_name or "School",
        "version": __version__,
        "digest": definitions(settings).digest,
        "as_of": gathered.as_of,
    }
    pages = dict(_pages(gathered, run, common))
    told = f"Figures as of {day(gathered.as_of)}; written {day(now)}, {now:%H:%M %Z}."
    size = publish({**pages, **asset_files(gathered, {"written": told})}, warehouse.pages)
    students = len(gathered["page_students"])
    return PagesReport(warehouse.pages / "index.html", len(pages), students, size)


def _pages(
    gathered: Gathered, run: LastRun | None, common: dict[str, Any]
) -> Iterator[tuple[str, str]]:
    """Every page by its path, one after the other."""
    top = {**common, "root": "", "data": {"datasets": {}, "charts": []}}
    students = {
        "students": gathered["page_students"],
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
    below = {**common, "root": "../", "current": "", "as_of": None}
    for student in gathered["page_students"]:
        name = f"{file_name(student['student_id'])}.html"
        page = {**below, **student_page(gathered, student)}
        yield f"students/{name}", render("student.html.j2", **page)
        yield (
            f"handouts/{name}",
            render("handout.html.j2", **{**below, **handout(gathered, student)}),
        )
