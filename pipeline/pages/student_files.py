"""The files of all students: taken over where they would come out the same, else made a group at a time."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from pipeline.pages.by_student import Row, student_table
from pipeline.pages.gather import Gathered, Opened
from pipeline.pages.made_of import MadeOf
from pipeline.pages.one_student import inputs_of, own_part
from pipeline.pages.publish import Content
from pipeline.pages.shell import render
from pipeline.pages.student_pages import handout, student_page
from pipeline.pages.traces import TRACES
from pipeline.pages.words import file_name

AT_ONCE: Final = 100
"""Students whose traces are in memory at once: enough to share the fixed cost of reading samples."""

_SESSIONS: Final = """
    SELECT t.student_id, s.* EXCLUDE (student_id), s.student_id AS flown_by
    FROM (SELECT DISTINCT student_id, session_id FROM page_trace_maneuvers) AS t
    INNER JOIN sessions AS s ON t.session_id = s.session_id
    ORDER BY t.student_id, s.session_id
"""


@dataclass(frozen=True)
class _Files:
    """A student's two files, and a digest of what they are made of."""

    student: Row
    inputs: str

    @property
    def names(self) -> tuple[str, str]:
        """Where the page and the sheet lie."""
        name = f"{file_name(self.student['student_id'])}.html"
        return f"students/{name}", f"handouts/{name}"


def student_files(
    gathered: Gathered, opened: Opened, common: Mapping[str, Any], made: MadeOf
) -> Iterator[tuple[str, Content]]:
    """Every student's page and sheet by its path; all else must have been read from `opened` before."""
    below = {**common, "root": "../", "current": "", "as_of": None}
    sessions = student_table(opened.con, _SESSIONS)
    anew: list[_Files] = []
    for student in gathered["page_students"]:
        name = student["student_id"]
        drawn = sessions.only(name).table.to_pydict()
        files = _Files(student, inputs_of(own_part(gathered, name), student, below, drawn))
        as_before = [made.as_before(path, files.inputs) for path in files.names]
        if all(content is not None for content in as_before):
            yield from (
                (p, c) for p, c in zip(files.names, as_before, strict=True) if c is not None
            )
        else:
            anew.append(files)
    reader = opened.traces()
    for first in range(0, len(anew), AT_ONCE):
        group = anew[first : first + AT_ONCE]
        traces = reader.read([files.student["student_id"] for files in group])
        with_traces = gathered.with_tables({TRACES: traces})
        for files in group:
            own = own_part(with_traces, files.student["student_id"])
            page, sheet = files.names
            text = render("student.html.j2", **{**below, **student_page(own, files.student)})
            yield page, made.made(page, files.inputs, text)
            text = render("handout.html.j2", **{**below, **handout(own, files.student)})
            yield sheet, made.made(sheet, files.inputs, text)
