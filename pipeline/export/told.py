"""What the words of an export tell of it, and how it is to be cited."""

from __future__ import annotations

import json
from dataclasses import dataclass

from pipeline.export.choice import DisclosureReport, ExportChoice, Level

_ABSTRACTS: dict[Level, str] = {
    "cohort": "Figures of groups of flight students",
    "student": "Weekly figures of single flight students under random codes",
    "maneuver": "Figures of single maneuvers of flight students under random codes",
}
_NOBODY = "The flight school that holds the data"
LICENCES = frozenset(
    [
        *("CC0-1.0", "CC-BY-4.0", "CC-BY-SA-4.0", "CC-BY-NC-4.0", "CC-BY-NC-SA-4.0"),
        *("CC-BY-ND-4.0", "CC-BY-NC-ND-4.0", "PDDL-1.0", "ODC-By-1.0", "ODbL-1.0"),
        *("CDLA-Permissive-2.0", "CDLA-Sharing-1.0", "Apache-2.0", "MIT"),
    ]
)
"""Licences for data that are named by their SPDX identifier; anything else is told in words."""


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
    def abstract(self) -> str:
        """What the data set holds, in two sentences."""
        return (
            f"{_ABSTRACTS[self.choice.level]}: how closely and how steadily they held an assigned altitude "
            "and heading, and whether and how soon they trimmed. From the session logs of one flight school, "
            "de-identified, with a codebook and the SQL of every figure."
        )

    @property
    def reference(self) -> str:
        """How to cite it, in a line."""
        return f"{self.author}. {self.title} [data set]. Release {self.release_id}, {self.created}."

    @property
    def author(self) -> str:
        """Who is to be named as the author."""
        return self.school or _NOBODY


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
        "abstract: " + json.dumps(told.abstract, ensure_ascii=False),
        "keywords:",
        '  - "flight training"',
        '  - "straight and level flight"',
    ]
    if told.choice.contact:
        lines += ["contact:", "  - name: " + json.dumps(told.choice.contact, ensure_ascii=False)]
    if told.choice.licence in LICENCES:
        lines.append("license: " + json.dumps(told.choice.licence))
    return "\n".join(lines) + "\n"
