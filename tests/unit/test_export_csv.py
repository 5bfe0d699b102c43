"""The CSV files of an export: safe in a spreadsheet, and figures as they are."""

import pyarrow as pa
import pytest

from pipeline.export.data_files import WITHHELD, csv_bytes


@pytest.mark.parametrize("lead", ["=", "+", "-", "@", "\t", "\r"])
@pytest.mark.parametrize("is_dictionary", [False, True])
def test_a_text_that_would_run_as_a_formula_is_led_by_an_apostrophe(
    lead: str, is_dictionary: bool
) -> None:
    texts = pa.array([f"{lead}HYPERLINK(1)", f"a{lead}b", None, ""])
    table = pa.table({"cohort": texts.dictionary_encode() if is_dictionary else texts})
    content = csv_bytes(table).decode().replace('"', "")
    assert content == f"cohort\n'{lead}HYPERLINK(1)\na{lead}b\n\n\n"


def test_a_figure_below_zero_is_a_number_whether_or_not_others_are_withheld() -> None:
    figures = pa.array([-1.5, None, None])
    assert csv_bytes(pa.table({"slope": figures})) == b"slope\n-1.5\n\n\n"
    table = pa.table({"is_withheld": [False, True, False], "slope": figures})
    assert csv_bytes(table).decode() == f"is_withheld,slope\nfalse,-1.5\ntrue,{WITHHELD}\nfalse,\n"
