"""Figures, dates and codes as pages put them into words."""

from datetime import date

import pytest

from pipeline.pages import words


def test_a_missing_figure_is_a_dash_and_never_zero() -> None:
    for put in (words.number, words.percent, words.heading, words.seconds, words.held):
        assert put(None) == words.MISSING
    assert words.band(None, "altitude") == words.MISSING
    assert words.day(None) == words.MISSING


@pytest.mark.parametrize(
    ("value", "places", "told"),
    [(0.004, 2, "0.00"), (-0.004, 2, "0.00"), (-12.6, 0, "−13"), (4500.0, 0, "4\u202f500")],
)
def test_figures_have_a_true_minus_and_no_negative_zero(
    value: float, places: int, told: str
) -> None:
    assert words.number(value, places) == told


def test_signed_figures_show_their_sign() -> None:
    assert [words.signed(v, 1) for v in (4.56, -4.56, 0.01)] == ["+4.6", "−4.6", "0.0"]


@pytest.mark.parametrize(
    ("value", "told"), [(45, "045"), (0, "360"), (360, "360"), (359.6, "360"), (9.6, "010")]
)
def test_a_heading_is_three_digits_and_north_is_360(value: float, told: str) -> None:
    assert words.heading(value) == told


def test_a_held_control_says_which_way() -> None:
    assert words.held(0.1) == "a pull of 0.100"
    assert words.held(-0.1) == "a push of 0.100"
    assert words.held(0.0001) == "nothing held"


def test_seconds_into_a_flight_are_minutes_and_seconds() -> None:
    assert [words.seconds(s) for s in (0, 59.9, 60, 249)] == ["0:00", "0:59", "1:00", "4:09"]


def test_seconds_before_the_flight_are_told_as_such() -> None:
    found = [words.seconds(s) for s in (-0.5, -5, -59.9, -75)]
    assert found == ["0:00", "\u22120:05", "\u22120:59", "\u22121:15"]


def test_a_band_is_told_in_the_unit_of_its_aspect() -> None:
    assert words.band(140.2, "altitude") == "±140\u00a0ft"
    assert words.band(8.6, "heading") == "±9°"
    assert words.band(0.0771, "trim") == "0.077 of travel"


def test_a_count_agrees_with_its_noun() -> None:
    assert words.many(1, "session") == "1 session"
    assert words.many(1200, "session") == "1\u202f200 sessions"


@pytest.mark.parametrize(
    ("told", "printed"),
    [
        ("not a number from -2000 to 60000", "not a number from \u22122000 to 60000"),
        (
            "logs/s20260328-09.csv, line 2: '-5' is not",
            "logs/s20260328-09.csv, line 2: '-5' is not",
        ),
        ("at 2026-03-14T09:30:00-05:00", "at 2026-03-14T09:30:00-05:00"),
        ("within +-20 deg, -3 deg now", "within \u00b120\u00b0, \u22123\u00b0 now"),
    ],
)
def test_signs_of_print_stand_where_figures_do_and_nowhere_else(told: str, printed: str) -> None:
    assert words.typeset(told) == printed


def test_a_change_of_a_logarithm_is_told_in_per_cent() -> None:
    assert [words.change_percent(x) for x in (0.0, 0.0953, -0.2231)] == ["0", "+10", "\u221220"]


def test_dates_are_told_the_same_everywhere() -> None:
    assert words.day(date(2026, 3, 5)) == "5 Mar 2026"


def test_a_plain_code_is_its_own_file_name() -> None:
    assert words.file_name("TH-07") == "TH-07"


@pytest.mark.parametrize("code", ["a/b", "..", "", "th07", "Ärger", "A" * 80, "x<y>"])
def test_any_other_code_gets_a_safe_file_name_of_its_own(code: str) -> None:
    name = words.file_name(code)
    assert name.isascii()
    assert not set(name) & set('/\\:<>"|?*. ')
    assert len(name) <= 60


def test_codes_that_differ_only_in_case_do_not_share_a_file() -> None:
    names = {
        words.file_name(code).casefold() for code in ("TH07", "th07", "Th07", "TH 07", "TH_07")
    }
    assert len(names) == 5


def test_inputs_of_trim_are_told_in_the_singular_too() -> None:
    assert words.trims(2, 3) == "2 of 3 trim inputs the right way"
    assert words.trims(1, 1) == "the one trim input the right way"
    assert words.trims(0, 1) == "the one trim input not the right way"


def test_a_small_figure_is_less_than_its_least_place_and_not_zero() -> None:
    assert words.small(0.0004, 3) == "<0.001"
    assert words.small(0.0012, 3) == "0.001"
    assert words.small(0.0, 3) == "0.000"
    assert words.small(None, 3) == words.MISSING
