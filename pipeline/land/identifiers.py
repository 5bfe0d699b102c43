"""What may be a name: of a session, a student, a device, a cohort.

Identifiers become parts of paths, of pages and of spreadsheets, so what could leave a folder, start
a formula or hide in the text is refused at the door.
"""

import unicodedata

MAX_LENGTH = 80
_FORMULA_LEADS = frozenset("=+-@")
_SEPARATORS = frozenset("/\\:")


def fault_of_identifier(text: str) -> str | None:
    """What is unsafe about an identifier, as the middle of a sentence; None where it is safe."""
    if any(c in _SEPARATORS for c in text):
        return "holds a path separator"
    if text.startswith("."):
        return "starts with a dot"
    return fault_of_label(text)


def fault_of_label(text: str) -> str | None:
    """What is unsafe about a word for people (a lesson, an aircraft type); None where it is
    safe.
    """
    if len(text) > MAX_LENGTH:
        return f"is longer than {MAX_LENGTH} characters"
    # Category C: control and format characters (also those that turn the reading direction).
    if any(unicodedata.category(c)[0] == "C" or c in "\u2028\u2029" for c in text):
        return "holds a control character"
    if text[:1] in _FORMULA_LEADS:
        return "starts like a spreadsheet formula (= + - @)"
    return None
