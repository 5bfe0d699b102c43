"""What a reader who has only the pages can find out, and that it is said once, in words, and agrees."""

from __future__ import annotations

import html
import re
import shlex
from datetime import date
from pathlib import Path

import duckdb
import pytest

from pipeline.pages.meanings import GATE_WORDS, SEVERITY_WORDS, STATES
from pipeline.pages.shell import render
from pipeline.reading import open_warehouse, school_settings
from pipeline.relations import names_in, relation_files
from pipeline.schema.gates import GATE_BY_NAME, SEVERITY_MEANINGS
from pipeline.store import Warehouse
from tests.browser.test_pages_as_files import data_of, pages_of
from tests.drawn_school import COHORTS, LEFT_STUDENT


@pytest.fixture(scope="module")
def pages(pages_folder: Path) -> dict[str, str]:
    return pages_of(pages_folder)


@pytest.fixture(scope="module")
def answering(pages: dict[str, str], pages_folder: Path) -> duckdb.DuckDBPyConnection:
    """The warehouse opened for every relation that a command on the pages names, and a few more."""
    warehouse = Warehouse(pages_folder.parent)
    asked = {sql for page in pages.values() for sql in queries_on(page)}
    wanted = {name for sql in asked for name in names_in(sql)} | {"maneuvers", "page_left_out"}
    return open_warehouse(warehouse, school_settings(warehouse), sorted(wanted))


def commands_on(page: str) -> list[list[str]]:
    """The commands that a page offers, word by word."""
    return [
        shlex.split(html.unescape(code))
        for code in re.findall(r"<code>(levelhold [^<]*)</code>", page)
    ]


def queries_on(page: str) -> list[str]:
    """The SQL of each query that a page offers."""
    return [command[4] for command in commands_on(page) if command[1] == "query"]


def text_of(page: str) -> str:
    """What a reader sees: no tags, entities resolved, white space as one blank."""
    shown = re.sub(r"<(script|style).*?</\1>", " ", page, flags=re.DOTALL)
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", shown))).strip()


def test_every_state_there_is_is_explained_once(pages: dict[str, str]) -> None:
    rule = relation_files()["student_levels"].text
    told = re.search(r"(?s)CASE(?:(?!CASE).)*END AS state,", rule)
    assert told
    names = set(re.findall(r"(?:THEN|ELSE) '([^']+)'", told.group()))
    assert names == {state.name for state in STATES}
    for state in STATES:
        heading = f">{state.name.capitalize()}</dt>"
        assert len(re.findall(re.escape(heading), pages["definitions.html"])) == 1


def test_every_student_stands_somewhere_in_each_aspect(pages: dict[str, str]) -> None:
    listed = pages["cohorts.html"].split("Who is in which state")[1].split("</details>")[0]
    students = set(re.findall(r"students/([^.]+)\.html", pages["students.html"]))
    for aspect in ("altitude", "heading", "trim"):
        parts = re.findall(rf"<h3>[^<]*, {aspect}</h3>(.*?)(?=<h3>|$)", listed, flags=re.DOTALL)
        found = re.findall(r"students/([^.]+)\.html", " ".join(parts))
        assert sorted(found) == sorted(students)


def test_one_term_says_that_there_is_too_little(pages: dict[str, str]) -> None:
    for name, page in pages.items():
        assert "too little data" not in text_of(page).lower(), name


def test_cohorts_without_a_shared_standard_are_drawn_apart_and_not_compared(
    pages: dict[str, str],
) -> None:
    for name, kind in (("index.html", "cohort_trends"), ("cohorts.html", "group_curves")):
        charts = [c for c in data_of(pages[name])["charts"] if c["chart"] == kind]
        assert len({c["choices"]["panel"] for c in charts}) == len(charts) > 1
        assert "are not compared: no shared standard" in text_of(pages[name])
    told = [c["told"] for c in data_of(pages["index.html"])["charts"] if "told" in c]
    assert {"altitude": f"{COHORTS[1]}: held to faa-private-instruments"}.items() <= told[0].items()
    assert told[0]["trim"] == f"{', '.join(COHORTS)}: held to one limit, the same for all"


def test_a_finding_tells_sessions_since_it_was_raised_apart_from_all(pages: dict[str, str]) -> None:
    counts = re.findall(r"(\d+) sessions? since, of (\d+) that count", text_of(pages["index.html"]))
    assert len(counts) == len(re.findall('<div class="finding">', pages["index.html"]))
    assert all(1 <= int(since) <= int(counted) for since, counted in counts)


def test_a_sheet_tells_as_many_sessions_as_it_lists(pages: dict[str, str]) -> None:
    sheet = pages["handouts/TH02.html"]
    assert "5 sessions flown so far, all with level flight" in text_of(sheet)
    assert "Your 5 sessions with level flight" in text_of(sheet)
    assert len(re.findall(r"<tr><th scope=\"row\">", sheet)) == 5


def test_a_sheet_names_the_exercises_that_the_instructor_s_page_names(
    pages: dict[str, str],
) -> None:
    named = 0
    for name, sheet in pages.items():
        if not name.startswith("handouts/"):
            continue
        page = pages[name.replace("handouts/", "students/")]
        exercises = set(re.findall(r"<em>Next exercise:</em> ([^<]*)</p>", page))
        assert exercises == set(re.findall(r"<li>([^<]*)</li>", sheet)), name
        named += len(exercises)
    assert named > 0


def test_a_list_of_maneuvers_that_is_not_whole_says_so(pages: dict[str, str]) -> None:
    told = re.findall(r"The latest (\d+) of the (\d+) maneuvers", text_of(pages["index.html"]))
    assert told
    assert all(int(listed) < int(every) for listed, every in told)


def test_a_sheet_that_lists_some_sessions_only_says_so() -> None:
    one = {"session_date": date(2026, 3, 1), "lesson": "levels"}
    figures = {"altitude": 0.5, "heading": 0.5, "trim": 0.5, "left_out": "rougher air"}
    sheet = render(
        "handout.html.j2",
        school="School",
        version="1",
        digest="d",
        as_of=None,
        root="../",
        current="",
        data={"datasets": {}, "charts": []},
        student={
            "student_id": "A",
            "standard_id": "easy",
            "sessions_flown": 11,
            "last_session_date": None,
        },
        tolerances="",
        exercises=[],
        is_too_early=False,
        session_charts=[],
        sessions=[{**one, **figures} for _ in range(9)],
    )
    assert "11 sessions flown so far, 9 with level flight" in text_of(sheet)
    assert "The latest 8 of your 9 sessions with level flight" in text_of(sheet)
    assert text_of(sheet).count("0.50 rougher air") == 8


def test_every_label_that_leads_to_a_definition_finds_it(pages: dict[str, str]) -> None:
    defined = set(re.findall(r'id="([^"]+)"', pages["definitions.html"]))
    asked: dict[str, set[str]] = {
        name: set(re.findall(r'definitions\.html#([^"]+)"', page)) for name, page in pages.items()
    }
    assert {"held", "times", "outside", "sure", "met"} <= asked["index.html"] <= defined
    for name, wanted in asked.items():
        assert wanted <= defined, name
        assert wanted or name == "definitions.html" or name.startswith("handouts/"), name


def test_a_sheet_says_which_sessions_do_not_count_and_why(pages: dict[str, str]) -> None:
    """No device is known to rest anywhere until three students have flown it."""
    listed = pages["handouts/TH02.html"].split("<tbody>")[1]
    assert "trim: " in listed
    page = pages["students/TH02.html"].split('id="sessions"')[1].split("</table>")[0]
    reasons = set(re.findall(r"<td>(trim: [^<]*)</td>", page))
    assert reasons
    assert all(reason in listed for reason in reasons)


def test_insufficient_data_has_its_reason_beside_it(pages: dict[str, str]) -> None:
    (row,) = re.findall(r"<tr [^>]*>(?:(?!</tr>).)*students/TH04.*?</tr>", pages["students.html"])
    assert text_of(row).count("insufficient data") == 3
    assert text_of(row).count("3 are needed") == 3


def test_a_finding_says_since_when_and_when_it_was_raised(pages: dict[str, str]) -> None:
    told = re.findall(r"outside since [^;]+; raised on \d+ [A-Z]", text_of(pages["index.html"]))
    assert len(told) == pages["index.html"].count('<div class="finding">') > 2


def test_who_has_left_is_picked_from_a_group_apart_and_on_no_list(pages: dict[str, str]) -> None:
    picker = pages["index.html"].split('id="choice-student"')[1].split("</select>")[0]
    before, after = picker.split('<optgroup label="have left">')
    assert LEFT_STUDENT in after
    assert LEFT_STUDENT not in before
    assert LEFT_STUDENT not in pages["students.html"]


def test_everything_that_was_left_out_is_listed_with_its_counts(
    pages: dict[str, str], answering: duckdb.DuckDBPyConnection
) -> None:
    rows = answering.sql("FROM page_left_out").pl().to_dicts()
    assert "flown by the instructor" in {row["reason"] for row in rows}
    listed = pages["data-quality.html"].split('id="left-out"')[1].split("</table>")[0]
    kinds = [f"{a}_{k}" for k in ("sessions", "maneuvers") for a in ("altitude", "heading", "trim")]
    for row in rows:
        told = [str(row[kind] or "–") for kind in kinds]
        assert " ".join([row["reason"], *told, str(row["student_count"])]) in text_of(listed)
        assert row["reason"] in text_of(pages["index.html"])


def test_data_checks_are_told_in_words_with_their_name_beside(pages: dict[str, str]) -> None:
    assert GATE_WORDS.keys() == GATE_BY_NAME.keys()
    assert SEVERITY_WORDS.keys() == SEVERITY_MEANINGS.keys()
    assert not any("_" in words for words in (*GATE_WORDS.values(), *SEVERITY_WORDS.values()))
    page = re.sub(r"<code>.*?</code>", "", pages["data-quality.html"], flags=re.DOTALL)
    for identifier in (*GATE_BY_NAME, *SEVERITY_MEANINGS):
        assert "_" not in identifier or identifier not in text_of(page)


def test_checks_of_devices_are_told_as_a_person_would_say_them(pages: dict[str, str]) -> None:
    told = text_of(pages["devices.html"])
    assert "10 checks are normal" in told or re.search(r"\d+ of \d+ checks are normal", told)
    assert not re.search(r"\d\.0 sessions|at most 0\.0|pitch_control in", told)


def test_the_state_of_trim_and_the_time_to_trim_are_reconciled(pages: dict[str, str]) -> None:
    assert "one can be met without the other" in text_of(pages["students/TH02.html"])
    assert 'id="trim"' in pages["definitions.html"]


def test_every_command_on_the_pages_can_be_pasted_and_answers(
    pages: dict[str, str], answering: duckdb.DuckDBPyConnection
) -> None:
    """Run in the warehouse, as each page's foot says: no name is left to fill in."""
    asked, explained = set(), set()
    for page in pages.values():
        for command in commands_on(page):
            if command[1] == "query":
                assert command[:4] == ["levelhold", "query", "--warehouse", "."]
                (sql,) = command[4:]
                asked.add(sql)
            elif command[1] == "explain" and len(command) > 2:
                assert command[2:4] == ["--warehouse", "."]
                explained.add(command[4])
    assert len(asked) > 20
    for sql in sorted(asked):
        assert answering.execute(sql).description, sql
    known = {row[0] for row in answering.execute("SELECT maneuver_id FROM maneuvers").fetchall()}
    assert explained
    assert explained <= known


def test_every_table_and_list_says_where_its_figures_come_from(pages: dict[str, str]) -> None:
    for name, page in pages.items():
        for caption in re.findall(r"<caption>(.*?)</caption>", page, flags=re.DOTALL):
            assert "<code>levelhold " in caption or name.startswith("handouts/"), (name, caption)
    lists = re.findall(r'<section aria-labelledby="list-', pages["index.html"])
    told = pages["index.html"].split("Where these lists come from")[1].split("</details>")[0]
    assert len(re.findall("<code>levelhold query", told)) == len(lists) > 8


def test_a_finding_s_command_gives_the_figure_and_its_seconds(
    pages: dict[str, str], answering: duckdb.DuckDBPyConnection
) -> None:
    asked = queries_on(pages["students/TH01.html"])
    (evidence,) = (sql for sql in asked if "page_evidence" in sql)
    (figures,) = (sql for sql in asked if "altitude_bias_ft" in sql)
    held = answering.sql(evidence).pl()
    assert {"start_s", "end_s", "held", "tolerance_ratio"} <= set(held.columns)
    assert len(held) > 2
    (row,) = answering.sql(figures).pl().to_dicts()
    told = ("start_s", "end_s", "altitude_hold95_ft", "altitude_bias_ft", "altitude_rmse_ft")
    assert all(isinstance(row[name], float) for name in told)
