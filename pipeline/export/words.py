"""The words of an export: README and CITATION.cff, for somebody who has nothing but the folder."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from importlib import resources
from string import Template

import pyarrow as pa

from pipeline.export.choice import DisclosureReport, ExportChoice, Level
from pipeline.export.describe import resource_name
from pipeline.relations import relation_files

_ROW_SENTENCES: dict[Level, str] = {
    "cohort": "It holds figures of groups of students only.",
    "student": "It holds rows of single students under random codes.",
    "maneuver": "It holds rows of single maneuvers under random codes.",
}
_NOBODY = "The flight school that holds the data"


@dataclass(frozen=True)
class Told:
    """What the words of an export tell."""

    release_id: str
    created: str
    version: str
    digest: str
    school: str | None
    choice: ExportChoice
    disclosure: DisclosureReport
    bound: str

    @property
    def title(self) -> str:
        """The title of the data set."""
        what = {"cohort": "groups", "student": "students", "maneuver": "maneuvers"}
        return f"How closely flight students hold level flight: {what[self.choice.level]}"

    @property
    def author(self) -> str:
        """Who is to be named as the author."""
        return self.school or _NOBODY


def readme(told: Told, tables: Mapping[str, pa.Table], codes: pa.Table) -> str:
    """The README of an export."""
    text = resources.files("pipeline.export").joinpath("readme.md.txt").read_text(encoding="utf-8")
    return Template(text).substitute(
        title=told.title,
        release_id=told.release_id,
        created=told.created,
        row_sentence=_ROW_SENTENCES[told.choice.level],
        version=told.version,
        tables="\n".join(_table_lines(tables)),
        digest=told.digest,
        bound=told.bound,
        codes=_codes(codes) if told.choice.level == "maneuver" else "",
        who="\n".join(_who(told)),
        disclosure="\n".join(_disclosure(told.disclosure)),
        citation=f"{told.author}. {told.title}. Release {told.release_id}, {told.created}.",
        terms="\n".join(_terms(told.choice)),
    )


def _table_lines(tables: Mapping[str, pa.Table]) -> list[str]:
    lines = []
    for relation, table in tables.items():
        file = relation_files()[relation]
        key = ", ".join(f"`{column}`" for column in file.grain)
        lines.append(
            f"- `{resource_name(relation)}` ({table.num_rows} rows, key {key}). {file.sentence} "
            f"{file.units[0].upper()}{file.units[1:]}."
        )
    return lines


def _codes(codes: pa.Table) -> str:
    seen = {row["missing_code"]: row["missing_meaning"] for row in codes.to_pylist()}
    return "\n".join(f"- `{code}`: {meaning}" for code, meaning in seen.items())


def _who(told: Told) -> list[str]:
    choice = told.choice
    asked = [
        choice.first_date and "sessions from a first date on",
        choice.last_date and "sessions up to a last date",
        choice.cohort and f"the cohort {choice.cohort}",
        choice.standard_id and f"students held to {choice.standard_id}",
    ]
    limits = [words for words in asked if words]
    lines = [f"- Asked for: {'; '.join(limits) if limits else 'every session of every student'}."]
    lines += [
        f"- Students left out, {reason}: {count}."
        for reason, count in told.disclosure.left_out.items()
    ]
    lines.append(
        "- Whoever said no to research is in no figure. Rows of single students are only of those who "
        "said yes, where the school's roster asks at all."
    )
    lines.append(f"- Consent and ethics: {choice.ethics or 'not stated; ask the school'}.")
    return lines


def _disclosure(report: DisclosureReport) -> list[str]:
    least = report.minimum_students
    return [
        f"- Groups of fewer than {least} students are not told of (the commonest minimum of US states for "
        "school statistics: NCES 2011-603).",
        *(_of_cells(report) if report.level == "cohort" else _of_rows(report)),
        f"- Compared with {report.compared_releases} earlier releases: subtracting one from another "
        f"singles out no group of fewer than {least} students.",
    ]


def _of_cells(report: DisclosureReport) -> list[str]:
    return [
        f"- Cells shown: {report.shown_cells}. Cells withheld because they hold fewer students, or because "
        "such a cell could be had by subtracting the rest from a total: "
        f"{report.withheld_cells}, those that nobody is in among them.",
        "- Which further cell is withheld is a matter of chance, so that nobody can tell a cell's size "
        "from its being withheld.",
    ]


def _of_rows(report: DisclosureReport) -> list[str]:
    least = report.minimum_students
    return [
        f"- Every combination of cohort, standard and classes of device is shared by at least {least} "
        "students (k-anonymity: Sweeney 2002); what would break that is masked, and if that does not "
        "do, left out.",
        *(f"- Students with the {what}: {count}." for what, count in report.masked.items()),
        f"- A device flown by fewer than {least} of these students has no code.",
        "- Codes are random and not made from identifiers; the key stays at the school. Each release has "
        "new codes unless the school links it to another on purpose.",
    ]


def _terms(choice: ExportChoice) -> list[str]:
    return [
        f"Licence: {choice.licence or 'none was given; ask the school before you use or share it'}.",
        "",
        f"Contact: {choice.contact or 'the school'}.",
    ]


def citation(told: Told) -> str:
    """CITATION.cff (Citation File Format 1.2.0). Every string is quoted, so that no word can break
    it.
    """
    lines = [
        "cff-version: 1.2.0",
        "message: " + json.dumps("Please cite this data set as below.", ensure_ascii=False),
        "type: dataset",
        "title: " + json.dumps(told.title, ensure_ascii=False),
        "version: " + json.dumps(told.release_id),
        "date-released: " + json.dumps(told.created),
        "authors:",
        "  - name: " + json.dumps(told.author, ensure_ascii=False),
        "abstract: " + json.dumps(_ROW_SENTENCES[told.choice.level]),
        "keywords:",
        '  - "flight training"',
        '  - "straight and level flight"',
    ]
    if told.choice.licence:
        lines.append("license: " + json.dumps(told.choice.licence))
    return "\n".join(lines) + "\n"
