"""How figures, dates and codes are put into words on a page."""

from __future__ import annotations

import hashlib
import math
import re
from collections.abc import Callable, Mapping
from datetime import date, datetime
from typing import Any, Final

MISSING: Final = "\u2013"
"""What stands where there is no figure (an en dash); the reason stands beside it."""

ASPECTS: Final = {"altitude": "Altitude", "heading": "Heading", "trim": "Trim"}
KINDS: Final = {
    "level": "straight and level",
    "level_off": "level-off",
    "power_change": "power change",
    "turn": "turn",
    "climb": "climb",
    "descent": "descent",
}
MOMENTS: Final = {
    "set": "trimmed and left alone",
    "settled": "steady for 20 s",
    "settled or set": "whichever came first",
}
SAFE_NAME: Final = re.compile(r"[A-Z0-9][A-Z0-9-]{0,63}")


def day(value: date | datetime | None) -> str:
    """A date as 26 Mar 2026."""
    return MISSING if value is None else f"{value.day} {value:%b %Y}"


def number(value: float | None, places: int = 0) -> str:
    """A figure with a true minus sign, or a dash where there is none."""
    if value is None:
        return MISSING
    text = f"{value:,.{places}f}"
    is_zero = not any(c in "123456789" for c in text)
    return text.lstrip("-") if is_zero else text.replace("-", "\u2212").replace(",", "\u202f")


def signed(value: float | None, places: int = 0) -> str:
    """A figure with its sign, whichever it is."""
    text = number(value, places)
    is_positive = value is not None and value > 0 and any(c in "123456789" for c in text)
    return f"+{text}" if is_positive else text


def small(value: float | None, places: int) -> str:
    """A figure that is never negative; one too small for its places is less than the least."""
    least = 10.0**-places
    return (
        f"<{least:.{places}f}"
        if value is not None and 0 < value < least / 2
        else number(value, places)
    )


def percent(value: float | None) -> str:
    """A fraction as per cent."""
    return MISSING if value is None else f"{100 * value:.0f}\u00a0%"


def heading(value: float | None) -> str:
    """A heading as three digits; north is 360."""
    return MISSING if value is None else f"{round(value) % 360 or 360:03d}"


def seconds(value: float | None) -> str:
    """Seconds into a flight as minutes and seconds, 4:09; a log may begin before its flight does."""
    if value is None:
        return MISSING
    whole = int(abs(value))
    sign = "\u2212" if value < 0 and whole else ""
    return f"{sign}{whole // 60}:{whole % 60:02d}"


def held(value: float | None) -> str:
    """A held control in words: the sign says which way, and so what trim is missing."""
    if value is None:
        return MISSING
    if round(abs(value), 3) == 0:
        return "nothing held"
    return f"a {'pull' if value > 0 else 'push'} of {abs(value):.3f}"


def band(value: float | None, aspect: str) -> str:
    """A held band in the aspect's own unit."""
    if value is None:
        return MISSING
    if aspect == "altitude":
        return f"\u00b1{number(value)}\u00a0ft"
    return f"\u00b1{number(value)}\u00b0" if aspect == "heading" else f"{value:.3f} of travel"


def many(count: int, one: str, more: str | None = None) -> str:
    """A count with its noun: 1 session, 2 sessions."""
    return f"{count:,} {one if count == 1 else more or one + 's'}".replace(",", "\u202f")


def trims(right: int, inputs: int) -> str:
    """How many inputs of trim went the right way, in words."""
    if inputs == 1:
        return f"the one trim input {'' if right else 'not '}the right way"
    return f"{number(right)} of {number(inputs)} trim inputs the right way"


def trim_floor(limits: Mapping[str, Any]) -> str:
    """Why lines and bands of trim end where they do."""
    floor = number(limits["flag_trim_ratio_floor"], 2)
    return (
        f"Trim below {floor} counts as {floor} and is drawn there: so little held control is as good as "
        "none."
    )


def change_percent(slope_ln: float) -> str:
    """A change of a logarithm in per cent, with its sign."""
    return signed(100 * math.expm1(slope_ln))


def typeset(text: str) -> str:
    """A sentence of the command line with the signs of print; what stands in quotes was delivered so."""
    parts = re.split(r"('[^']*')", text.replace("+-", "\u00b1"))
    return "".join(
        part
        if number % 2
        else re.sub(r"(?<=\d) deg\b", "\u00b0", re.sub(r"(?<![\w/.:-])-(?=\d)", "\u2212", part))
        for number, part in enumerate(parts)
    )


def state_id(name: str) -> str:
    """Where on the page of definitions a state is explained."""
    return f"state-{name.partition(',')[0].replace(' ', '-')}"


def file_name(code: str) -> str:
    """A file name for a code that is safe on every file system and different for different codes."""
    if SAFE_NAME.fullmatch(code):
        return code
    plain = re.sub(r"[^A-Za-z0-9-]+", "_", code).strip("_")[:40]
    return f"{plain}_{hashlib.sha256(code.encode()).hexdigest()[:8]}"


FILTERS: Final[Mapping[str, Callable[..., Any]]] = {
    "day": lambda value: day(value).replace(" ", "\u00a0"),
    "number": number,
    "signed": signed,
    "percent": percent,
    "small": small,
    "heading": heading,
    "seconds": seconds,
    "held": held,
    "band": band,
    "many": many,
    "file_name": file_name,
    "state_id": state_id,
    "typeset": typeset,
    "capitalize_first": lambda text: text[:1].upper() + text[1:],
    "moment": lambda name: MOMENTS.get(name, name),
    "aspect": lambda name: ASPECTS.get(name, name),
    "kind": lambda name: KINDS.get(name, name),
}
