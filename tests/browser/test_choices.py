"""What a reader chooses really changes what is drawn and listed."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page

from pipeline.pages import commands
from tests.browser.conftest import Open
from tests.drawn_school import COHORTS

pytestmark = pytest.mark.browser


def choose(page: Page, name: str, value: str) -> None:
    """Choose an option and wait until the page has been drawn anew."""
    before = page.evaluate("document.documentElement.dataset.updated || '0'")
    page.select_option(f"#choice-{name}", value)
    page.wait_for_function(
        "before => (document.documentElement.dataset.updated || '0') !== before", arg=before
    )


def rings(page: Page) -> int:
    """How many sessions the chart of sessions draws."""
    return page.locator("#chart-session-points .mark-symbol path:visible").count()


def paths(page: Page, chart: str) -> list[str | None]:
    """The shapes of a chart's lines."""
    lines = page.locator(f"[id^=chart-{chart}] .mark-line path")
    return [lines.nth(i).get_attribute("d") for i in range(lines.count())]


def test_a_cohort_narrows_the_charts_the_findings_and_the_table(open_page: Open) -> None:
    page = open_page("index.html").page
    all_rings, all_people = rings(page), page.locator("#people > li:visible").count()
    lines = len(paths(page, "cohort-trends"))
    choose(page, "cohort", COHORTS[1])
    assert 0 < rings(page) < all_rings
    assert 0 < page.locator("#people > li:visible").count() < all_people
    assert len(paths(page, "cohort-trends")) == lines - 1
    assert page.locator("[data-count-of=people]").inner_text() == f"Shown: 2 of {all_people}"
    emptied = page.locator("ul[data-empty]")
    assert emptied.count() > 0
    assert "None with these choices" in emptied.first.evaluate(
        "list => getComputedStyle(list, '::after').content"
    )
    hidden = page.locator("#week-rows tr[data-cohort=alpha]")
    assert hidden.count() > 0
    assert hidden.first.evaluate("row => row.hidden")


def test_cohorts_of_different_standards_share_a_panel_only_where_the_limit_is_one_for_all(
    open_page: Open,
) -> None:
    page = open_page("index.html").page
    drawn = page.locator("#panels-cohort-trends .panel:visible")
    told = page.locator("#panels-cohort-trends .told:visible")
    assert drawn.count() == 2
    assert told.all_inner_texts() == [
        f"{COHORTS[1]}: held to faa-private-instruments",
        f"{COHORTS[0]}: held to first-lessons",
    ]
    floor = page.locator("[data-only-aspect=trim]")
    assert not floor.is_visible()
    choose(page, "aspect", "trim")
    assert drawn.count() == 1
    assert told.first.inner_text().startswith(f"{COHORTS[0]}, {COHORTS[1]}: held to one limit")
    assert "counts as 0.25" in floor.inner_text()
    choose(page, "aspect", "altitude")
    assert drawn.count() == 2
    assert drawn.first.locator("svg").bounding_box()["width"] > 200  # type: ignore[index]
    choose(page, "cohort", COHORTS[1])
    assert drawn.count() == 1


def test_an_aspect_changes_the_marks(open_page: Open) -> None:
    page = open_page("index.html").page
    before = paths(page, "cohort-trends")
    choose(page, "aspect", "heading")
    assert paths(page, "cohort-trends") != before


def test_a_device_and_a_period_narrow_the_sessions(open_page: Open) -> None:
    page = open_page("index.html").page
    all_rings = rings(page)
    choose(page, "device", "SIM-1")
    of_device = rings(page)
    choose(page, "weeks", "4")
    assert 0 < rings(page) < of_device < all_rings


def test_a_stage_that_nobody_has_leaves_no_session(open_page: Open) -> None:
    page = open_page("index.html").page
    page.evaluate(
        "document.querySelector('#choice-stage').add(new Option('unheard of', 'unheard of'))"
    )
    choose(page, "stage", "unheard of")
    assert rings(page) == 0


def test_a_student_is_picked_out_with_the_own_cohort_behind(open_page: Open) -> None:
    page = open_page("index.html").page
    assert page.locator("#chart-session-points .mark-line path").count() == 0
    choose(page, "student", "TH01")
    assert page.locator("#chart-session-points .mark-line path").count() == 1
    assert page.locator("#chart-session-points .mark-area path").count() == 1


def test_the_moment_of_trimming_changes_the_curve_and_its_table(open_page: Open) -> None:
    page = open_page("index.html").page
    before = paths(page, "settling-curves")
    choose(page, "figure", "settled")
    assert paths(page, "settling-curves") != before


def test_a_maneuver_changes_every_strip(open_page: Open) -> None:
    page = open_page("students/TH01.html").page
    names = ("altitude", "heading", "vertical-speed", "pitch-control")
    before = {name: paths(page, f"strip-{name}") for name in names}
    option = page.locator("#choice-maneuver option").nth(2).get_attribute("value")
    assert option
    choose(page, "maneuver", option)
    assert all(paths(page, f"strip-{name}") != before[name] for name in names)


def test_a_maneuver_is_chosen_from_its_row_in_the_table(open_page: Open) -> None:
    page = open_page("students/TH01.html").page
    link = page.locator("tbody tr[id^=figures-] a").nth(2)
    before = paths(page, "strip-altitude")
    link.click()
    page.wait_for_selector("html[data-updated]", state="attached")
    assert page.input_value("#choice-maneuver") == link.inner_text()
    assert paths(page, "strip-altitude") != before


def test_one_click_leads_from_a_finding_to_the_trace_that_it_rests_on(open_page: Open) -> None:
    page = open_page("index.html").page
    page.locator("#people > li", has_text="TH01").locator("summary").first.click()
    link = page.locator("#people > li", has_text="TH01").locator("tbody a").first
    wanted = link.inner_text()
    link.click()
    page.wait_for_selector("html[data-ready=yes]", state="attached")
    assert page.input_value("#choice-maneuver") == wanted
    assert page.locator("#choice-maneuver").is_visible()
    assert paths(page, "strip-altitude") != [None]
    top = page.locator("#traces").bounding_box()
    assert top is not None
    assert -50 < top["y"] < 400


def test_a_trace_breaks_off_where_nothing_was_recorded(open_page: Open) -> None:
    """The last session of TH01 lost ten seconds in its first maneuver."""
    page = open_page("students/TH01.html").page
    (shape,) = paths(page, "strip-altitude")
    assert shape is not None
    assert shape.count("M") == 2


def test_excursions_are_shaded_and_settling_is_marked(open_page: Open) -> None:
    page = open_page("students/TH01.html").page
    assert page.locator("#chart-strip-altitude .mark-rect path").count() > 2
    page = open_page("students/TH02.html").page
    mine = page.locator("#choice-maneuver option", has_text="level-off").first
    value = mine.get_attribute("value")
    assert value
    choose(page, "maneuver", value)
    words = page.locator("#chart-strip-altitude .mark-text text")
    assert "trimmed and left alone" in " ".join(words.all_text_contents())


def test_cohorts_are_laid_side_by_side_by_what_is_chosen(open_page: Open) -> None:
    page = open_page("cohorts.html").page
    before = paths(page, "group-curves")
    choose(page, "grouping", "device")
    assert paths(page, "group-curves") != before


def test_a_device_is_picked_out(open_page: Open) -> None:
    page = open_page("devices.html").page
    assert len(paths(page, "device-neutrals")) == 2
    choose(page, "device", "SIM-2")
    assert len(paths(page, "device-neutrals")) == 1


def test_the_commands_are_of_the_maneuver_that_is_chosen(open_page: Open) -> None:
    page = open_page("students/TH01.html").page
    shown = page.locator("[data-tells] > code")
    option = page.locator("#choice-maneuver option").nth(2).get_attribute("value")
    assert option
    for value in (page.input_value("#choice-maneuver"), option):
        choose(page, "maneuver", value)
        assert shown.all_inner_texts() == [commands.figures(value), commands.explain(value)]
