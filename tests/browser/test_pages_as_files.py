"""The pages as files: what they carry, what they leave out, what stays the same."""

from __future__ import annotations

import base64
import hashlib
import html
import json
import re
import shutil
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from pipeline.charts import CHARTS
from pipeline.errors import UsageError
from pipeline.pages import open_pages, write_pages
from pipeline.pages.gather import gather_some
from pipeline.pages.made_of import NAME as MADE_OF
from pipeline.pages.one_chart import draw_chart, rows_to_draw
from pipeline.pages.rows import ROWS_MAXIMUM, count_rows
from pipeline.reading import open_warehouse, school_settings
from pipeline.store import Warehouse
from pipeline.trend import acknowledge, withdraw
from tests.drawn_school import COHORTS, NOW, OWNED, WILD_STUDENT

RELATIONS = ("page_student_sessions", "page_cohort_weeks")


def pages_of(folder: Path) -> dict[str, str]:
    return {
        path.relative_to(folder).as_posix(): path.read_text(encoding="utf-8")
        for path in sorted(folder.rglob("*.html"))
    }


def data_of(page: str) -> dict[str, Any]:
    found = re.search(r'<script type="application/json" id="page-data">(.*?)</script>', page)
    assert found
    content: dict[str, Any] = json.loads(found.group(1))
    return content


def test_no_page_carries_an_unescaped_label(pages_folder: Path) -> None:
    for name, text in pages_of(pages_folder).items():
        assert OWNED not in text, name
        assert "<img" not in text, name


def test_every_page_holds_a_policy_that_names_the_one_script(pages_folder: Path) -> None:
    for text in pages_of(pages_folder).values():
        policy = re.search(r'http-equiv="Content-Security-Policy" content="([^"]*)"', text)
        assert policy
        told = html.unescape(policy.group(1)).split("; ")
        assert "default-src 'none'" in told
        (script,) = re.findall(r"<script>(.*?)</script>", text, flags=re.DOTALL)
        digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
        assert f"script-src 'self' 'sha256-{digest}'" in told


def test_the_chart_library_is_there_once_with_its_licences(pages_folder: Path) -> None:
    assets = {path.name for path in (pages_folder / "assets").iterdir()}
    assert {"vega.js", "charts.js", "cohorts.js", "THIRD-PARTY-NOTICES.txt"} <= assets
    big = [path for path in pages_folder.rglob("*") if path.is_file() and path.stat().st_size > 5e5]
    assert [path.name for path in big] == ["vega.js"]


def test_no_page_carries_more_rows_than_a_browser_draws_at_ease(pages_folder: Path) -> None:
    for text in pages_of(pages_folder).values():
        assert count_rows(data_of(text)["datasets"]) <= ROWS_MAXIMUM


def test_the_overview_says_who_why_how_sure_and_on_which_flights(pages_folder: Path) -> None:
    text = (pages_folder / "index.html").read_text(encoding="utf-8")
    text = text.replace("\N{NO-BREAK SPACE}", " ")
    for told in (
        "Altitude outside ±200 ft",
        "over 99 % sure",
        "Heading outside ±20°",
        "a steady pull is held (plain mean of the latest level flights: 0.1",
        "raised on ",
        "reviewed 10 Mar 2026",
        "1 input refused",
        "3 are needed",
        "-000.1.01",
    ):
        assert told in text, told


def test_a_handout_names_and_shows_no_other_student(pages_folder: Path) -> None:
    text = (pages_folder / "handouts" / "TH01.html").read_text(encoding="utf-8")
    assert "TH01" in text
    assert not re.search(r"TH0[2-9]|TH10|Z9|alpha|beta", text)
    shared = [chart["rows"]["weeks"] for chart in data_of(text)["charts"]]
    assert shared == [{"shared": "none"}] * 3


def test_links_lead_to_pages_that_are_there(pages_folder: Path) -> None:
    for name, text in pages_of(pages_folder).items():
        here = (pages_folder / name).parent
        for link in re.findall(r'(?:href|src)="([^"#:]+)(?:#[^"]*)?"', text):
            assert (here / link).resolve().exists(), f"{name}: {link}"


def test_a_night_changes_only_what_its_data_changes(pages_folder: Path, tmp_path: Path) -> None:
    """A night later: only the night's line; after a review: the overview and that student's page."""
    own = Warehouse(Path(shutil.copytree(pages_folder.parent, tmp_path / "school")))
    settings = school_settings(own)
    first = files_of(own.pages)
    assert write_pages(own, settings, NOW + timedelta(days=1)).anew == frozenset()
    second = files_of(own.pages)
    assert changed(first, second) == {"assets/night.js"}
    acknowledge(own, settings, "TH03", "heading", "flown together", NOW)
    report = write_pages(own, settings, NOW + timedelta(days=1))
    third = files_of(own.pages)
    assert changed(second, third) == {"index.html", "students/TH03.html", MADE_OF}
    assert b"flown together" in third["students/TH03.html"]
    assert report.anew == {"students/TH03.html", "handouts/TH03.html"}


def test_pages_taken_over_are_those_that_would_be_made(pages_folder: Path, tmp_path: Path) -> None:
    """After a session is withdrawn: the same as where no page was there before."""
    own = Warehouse(Path(shutil.copytree(pages_folder.parent, tmp_path / "school")))
    settings = school_settings(own)
    con = open_warehouse(own, settings, ["sessions"])
    query = "SELECT MAX(session_id) FROM sessions WHERE student_id = 'TH03'"
    ((newest,),) = con.execute(query).fetchall()
    withdraw(own, settings, newest, "flown by somebody else", NOW)
    report = write_pages(own, settings, NOW)
    taken_over = files_of(own.pages)
    assert "students/TH03.html" in report.anew
    assert len(report.anew) < 2 * report.student_count
    shutil.rmtree(own.pages)
    report = write_pages(own, settings, NOW)
    assert len(report.anew) == 2 * report.student_count + 2
    assert changed(taken_over, files_of(own.pages)) == set()


def test_traces_read_for_a_few_students_are_those_read_for_all(pages_folder: Path) -> None:
    warehouse = Warehouse(pages_folder.parent)
    reader = open_pages(warehouse, school_settings(warehouse)).traces()
    every = reader.read()
    names = sorted(every.places)
    assert len(names) > 3
    for few in (names[:1], names[1:3], ["nobody"], names[3:]):
        part = reader.read(few)
        assert set(part.places) <= set(few)
        assert all(part.of(name) == every.of(name) for name in few)


def files_of(folder: Path) -> dict[str, bytes]:
    files = (path for path in folder.rglob("*") if path.is_file())
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in files}


def changed(before: dict[str, bytes], after: dict[str, bytes]) -> set[str]:
    assert before.keys() == after.keys()
    return {name for name in before if before[name] != after[name]}


def test_a_school_without_sessions_has_pages_that_say_so(tmp_path: Path) -> None:
    warehouse = Warehouse(tmp_path)
    report = write_pages(warehouse, school_settings(warehouse), NOW)
    assert report.student_count == 0
    assert "nothing to tell" in report.index.read_text(encoding="utf-8")


def test_the_wild_student_s_file_is_safe_to_name(pages_folder: Path) -> None:
    names = [path.name for path in (pages_folder / "students").iterdir()]
    assert len(names) == 10
    assert all(re.fullmatch(r"[A-Za-z0-9_-]+\.html", name) for name in names), WILD_STUDENT


def test_one_chart_is_drawn_into_a_file(pages_folder: Path, tmp_path: Path) -> None:
    warehouse = Warehouse(pages_folder.parent)
    settings = school_settings(warehouse)
    out = tmp_path / "strip.svg"
    draw_chart(warehouse, settings, "maneuver_strips", out, student="TH01")
    assert out.read_bytes().startswith(b"<svg")
    draw_chart(
        warehouse, settings, "cohort_trends", tmp_path / "c.svg", choices={"aspect": "heading"}
    )
    assert "beta &amp; &lt;b&gt;" in (tmp_path / "c.svg").read_text()


def test_a_picture_of_cohorts_says_what_each_is_held_to(pages_folder: Path, tmp_path: Path) -> None:
    warehouse = Warehouse(pages_folder.parent)
    settings = school_settings(warehouse)
    pictures = {}
    for aspect in ("altitude", "trim"):
        out = tmp_path / f"{aspect}.svg"
        draw_chart(warehouse, settings, "cohort_trends", out, choices={"aspect": aspect})
        pictures[aspect] = out.read_text(encoding="utf-8")
    assert "alpha: held to first-lessons" in pictures["altitude"]
    assert "not to be compared" in pictures["altitude"]
    assert "not to be compared" not in pictures["trim"]


def test_a_picture_of_a_student_shows_the_own_cohort_only(pages_folder: Path) -> None:
    warehouse = Warehouse(pages_folder.parent)
    settings = school_settings(warehouse)
    gathered = gather_some(warehouse, settings, ["page_students", *RELATIONS])
    weeks = rows_to_draw(CHARTS["student_sessions"], gathered, "TH01")["weeks"]
    assert {row["cohort"] for row in weeks} == {"alpha"}
    assert {row["cohort"] for row in gathered["page_cohort_weeks"]} == set(COHORTS)


@pytest.mark.parametrize(
    ("name", "file", "student", "choices", "told"),
    [
        ("cohort_trend", "a.svg", None, {}, "did you mean cohort_trends"),
        ("cohort_trends", "a.gif", None, {}, "a chart is written as .svg, .png, .pdf"),
        ("cohort_trends", "a.svg", None, {"colour": "red"}, "has no choice colour"),
        ("student_sessions", "a.svg", None, {}, "name one with --student"),
        ("student_sessions", "a.svg", "TH11", {}, "there is no student TH11; did you mean TH"),
    ],
)
def test_a_wrong_chart_is_refused_in_one_sentence(
    pages_folder: Path,
    tmp_path: Path,
    name: str,
    file: str,
    student: str | None,
    choices: dict[str, str],
    told: str,
) -> None:
    warehouse = Warehouse(pages_folder.parent)
    out = tmp_path / file
    with pytest.raises(UsageError, match=re.escape(told)):
        draw_chart(
            warehouse, school_settings(warehouse), name, out, student=student, choices=choices
        )
    assert not out.exists()
