"""The README of an export, for somebody who has nothing but the folder."""

from __future__ import annotations

from collections.abc import Mapping
from importlib import resources
from string import Template

import pyarrow as pa

from pipeline.export.choice import DisclosureReport, ExportChoice, Level
from pipeline.export.describe import resource_name, row_sentence
from pipeline.export.told import Told
from pipeline.relations import relation_files

_ROW_SENTENCES: dict[Level, str] = {
    "cohort": "It holds figures of groups of students only.",
    "student": "It holds weeks of single students under random codes.",
    "maneuver": "It holds single maneuvers under random codes.",
}


def readme(told: Told, tables: Mapping[str, pa.Table], codes: Mapping[str, str]) -> str:
    """The README of an export: of what is in this folder, and of nothing else."""
    text = resources.files("pipeline.export").joinpath("readme.md.txt").read_text(encoding="utf-8")
    return Template(_for_level(text, told.choice.level)).substitute(
        title=told.title,
        release_id=told.release_id,
        created=told.created,
        row_sentence=_ROW_SENTENCES[told.choice.level],
        version=told.version,
        tables="\n".join(_table_lines(told, tables)),
        digest=told.digest,
        bound=told.bound,
        codes="\n".join(f"- `{code}`: {meaning}" for code, meaning in codes.items())
        or "No code stands in these tables: nothing is missing for a reason.",
        who="\n".join(_who(told)),
        disclosure="\n".join(_disclosure(told.disclosure)),
        citation=told.reference,
        licence=_licence(told.choice),
        terms="\n".join(_terms(told.choice)),
    )


def _for_level(text: str, level: Level) -> str:
    """The lines of `text` for a level: a line such as `@student maneuver` says whom the next ones
    are for.
    """
    lines, is_for = [], True
    for line in text.splitlines():
        if line.startswith("@"):
            is_for = line == "@all" or level in line.removeprefix("@").split()
        elif is_for:
            lines.append(line)
    return "\n".join(lines) + "\n"


def _table_lines(told: Told, tables: Mapping[str, pa.Table]) -> list[str]:
    lines = []
    for relation, table in tables.items():
        file = relation_files()[relation]
        key = ", ".join(f"`{column}`" for column in file.grain)
        sentence = row_sentence(relation).replace(
            "share_minimum_students", str(told.disclosure.minimum_students)
        )
        lines.append(
            f"- `{resource_name(relation)}` ({_number(table.num_rows, 'row')}, key {key}). {sentence}"
        )
    return lines


def _number(count: int, of: str) -> str:
    return f"{count} {of}{'' if count == 1 else 's'}"


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
    lines += [f"- {row.in_words()}." for row in told.disclosure.left_out if row.in_words()]
    least = told.disclosure.minimum_students
    lines.append(
        "- Further reasons (`rest` in `left_out`) are not told one by one: each holds for fewer than "
        f"{least} students, or for none. A student may be left out for: {_reasons(choice)}."
    )
    lines.append(
        f"- Here numbers of students are rounded to the nearest {least} and shares to whole percent, so that "
        "two releases cannot be subtracted from one another."
    )
    lines.append(
        "- The school asks its students: whoever said no to research is in no figure, and rows of single "
        "students are only of those who said yes."
        if told.disclosure.is_consent_asked
        else "- The school's roster does not say what any student said about research, so nobody was left "
        "out for that."
    )
    lines.append(
        "- Students who left the school stay in it with what they flew until then, and are not marked."
    )
    lines.append(f"- Consent and ethics: {choice.ethics or 'not stated; ask the school'}.")
    return lines


def _reasons(choice: ExportChoice) -> str:
    """For what a student may be left out at this level, whether anybody is or not."""
    reasons = ["having said no to research"]
    reasons += ["not having answered, where the school asks"] if choice.has_rows else []
    reasons += ["no session in the time asked for"]
    reasons += [] if choice.has_rows else ["no session or event that counts"]
    return "; ".join([*reasons, "too few students who share what would be shown"])


def _disclosure(report: DisclosureReport) -> list[str]:
    least = report.minimum_students
    return [
        f"- Groups of fewer than {least} students are not told of (the commonest minimum of US states for "
        "school statistics: NCES 2011-603).",
        *(_of_cells(report) if report.level == "cohort" else _of_rows(report)),
        "- No earlier release is on record."
        if report.compared_releases == 0
        else f"- Compared with {_number(report.compared_releases, 'earlier release')}: subtracting one "
        f"from another singles out no group of fewer than {least} students.",
    ]


def _of_cells(report: DisclosureReport) -> list[str]:
    return [
        *(
            f"- In `{table}`: {report.shown[table]} of {report.shown[table] + report.withheld[table]} "
            f"{'curves' if table == 'curves' else 'rows'} are shown, {report.withheld[table]} withheld."
            for table in report.shown
        ),
        "- A cell is withheld because it holds fewer students, or none, or because such a cell could be had "
        "by subtracting the rest from a total.",
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
        f"- A device flown by fewer than {least} of these students has no code; weeks later than {least} of "
        "the students of a combination flew have no number.",
        *(f"- Students who are {what}: {count}." for what, count in report.stands_out.items()),
        "- So somebody who knows in which weeks a student flew could still find the student's rows. Keep "
        "these rows as you would keep personal data, and give them to nobody.",
        "- Codes are random and not made from identifiers; the key stays at the school. Each release has "
        "new codes unless the school links it to another on purpose.",
    ]


def _licence(choice: ExportChoice) -> str:
    given = choice.licence
    return f"Licence: {given or 'none was given; ask the school before you use or share it'}."


def _terms(choice: ExportChoice) -> list[str]:
    return [_licence(choice), "", f"Contact: {choice.contact or 'the school'}."]
