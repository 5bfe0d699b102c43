"""The README and the codebook of an export say what a reader asks, and nothing that is not there."""

import csv
import re
from pathlib import Path

from tests.cli.export.conftest import read, tables


def test_every_column_is_explained(package: Path) -> None:
    with (package / "codebook.csv").open(newline="") as file:
        book = {(row["table"], row["column"]): row for row in csv.DictReader(file)}
    for resource in tables(package):
        rows = [r for (name, _), r in book.items() if name == resource["name"]]
        keys = {r["column"] for r in rows if r["is_key"] == "true"}
        assert keys == set(resource["schema"]["primaryKey"])
        for field in resource["schema"]["fields"]:
            row = book[resource["name"], field["name"]]
            assert row["meaning"]
            assert row["missing"]
            assert row["source"]
            assert row["unit"] == field.get("unit", "")


def test_the_readme_answers_what_a_reader_asks(package: Path) -> None:
    text = (package / "README.md").read_text()
    for resource in tables(package):
        assert f"`{resource['name']}`" in text
    for heading in (
        "In short",
        "What is a row",
        "How each number was made",
        "What is missing, and why",
        *(["Censoring"] if package.name != "weeks" else []),
        "Who is in it, and who was left out",
        "Disclosure control",
        "Limits",
        "To cite it",
    ):
        assert f"## {heading}\n" in text
    assert "certify nobody" in text
    assert "$" not in text
    assert "\n@" not in text


TOLD = frozenset(
    [
        *("(withheld)", "unknown", "late-01", "late-02", "rest", "python example.py"),
        "levelhold export --verify DIR",
    ]
)
"""What a README may name in code type besides files, tables, columns and codes."""


def test_the_readme_speaks_of_nothing_that_is_not_in_the_folder(package: Path) -> None:
    """Of the columns of other levels least of all."""
    files = {p.relative_to(package).as_posix() for p in package.rglob("*")}
    names = {resource["name"] for resource in tables(package)}
    columns = {field["name"] for r in tables(package) for field in r["schema"]["fields"]}
    codes = {
        code
        for name in names
        for column in read(package, name).iter_columns()
        if column.name.endswith("_code") and column.name not in ("student_code", "session_code")
        for code in column.unique().drop_nulls()
    }
    text = (package / "README.md").read_text()
    named = set(re.findall(r"`([^`\n]+)`", text))
    known = TOLD | files | names | columns | codes
    known |= {file.removesuffix("/") + "/" for file in files}
    unknown = {n for n in named - known if not re.fullmatch(r"_code|[0-9a-f]{16}", n)}
    patterns = {"definitions/sql/9_share/released_*.sql", "standards.csv", "stages.csv"}
    assert unknown <= patterns


def test_the_codebook_says_what_an_empty_cell_means_wherever_there_is_one(package: Path) -> None:
    with (package / "codebook.csv").open(newline="") as file:
        book = {(row["table"], row["column"]): row["missing"] for row in csv.DictReader(file)}
    for resource in tables(package):
        with (package / resource["path"]).open(newline="") as file:
            rows = list(csv.DictReader(file))
        for column in rows[0]:
            seen = {row[column] for row in rows if row[column] in ("", "(withheld)")}
            told = book[resource["name"], column]
            where = (resource["name"], column, told)
            assert "empty: " in told or "" not in seen, where
            assert "(withheld)" in told or "(withheld)" not in seen, where
            assert not (told == "never empty" and seen), where
