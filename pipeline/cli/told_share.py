"""What an export tells a person."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pipeline.export import DisclosureReport, ExportReport, VerifyReport


def export_lines(report: "ExportReport") -> Iterator[str]:
    """What was written, table by table, or that nothing was."""
    if report.folder is None:
        yield "refused: nothing was written"
    else:
        yield f"release {report.release_id}: {report.folder}"
        for table, rows in report.rows.items():
            yield f"    {table.removeprefix('released_')}: {rows} rows"
    yield from disclosure_lines(report.disclosure)


def disclosure_lines(report: "DisclosureReport") -> Iterator[str]:
    """What is shown and withheld, who is left out, and every refusal."""
    for table, shown in report.shown.items():
        what = "curves" if table == "curves" else "cells"
        yield f"{table}: {shown} {what} shown, {report.withheld[table]} withheld"
    if report.shown:
        yield (
            f"    withheld: fewer than {report.minimum_students} students, or none, or would give such a "
            "cell away"
        )
    yield from (row.in_words() for row in report.left_out if row.in_words())
    yield f"further reasons to be left out: each of fewer than {report.minimum_students} students, or of none"
    yield from (f"students with the {what}: {n}" for what, n in report.masked.items())
    yield from (f"students who are {what}: {n}" for what, n in report.stands_out.items())
    yield f"earlier releases compared with: {report.compared_releases}"
    yield from (f"refused: {sentence}" for sentence in report.refusals)


def verify_lines(report: "VerifyReport") -> Iterator[str]:
    """Which files of a package made again are the same, and which are not."""
    yield f"release {report.release_id}: {len(report.same)} files are the same"
    for what, files in (
        ("differs", report.different),
        ("missing", report.missing),
        ("does not belong", report.unknown),
    ):
        yield from (f"{what}: {file}" for file in files)
    yield from (f"note: {note}" for note in report.notes)
