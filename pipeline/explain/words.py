"""Figures as a pilot says and reads them."""

from __future__ import annotations


def heading(degrees: float | None) -> str:
    """A heading as three digits, north as 360; "none" where there is none."""
    if degrees is None:
        return "none"
    whole = round(degrees) % 360
    return f"{whole or 360:03d}"


def feet(value: float | None, *, signed: bool = False) -> str:
    """Whole feet."""
    return _number(value, ".0f", "ft", signed=signed)


def degrees(value: float | None, *, signed: bool = False) -> str:
    """Degrees to a tenth."""
    return _number(value, ".1f", "deg", signed=signed)


def seconds(value: float | None) -> str:
    """Seconds to a tenth."""
    return _number(value, ".1f", "s")


def travel(value: float | None, *, signed: bool = False) -> str:
    """A fraction of full travel to three places."""
    return _number(value, ".3f", "of travel", signed=signed)


def plain(value: float | None, places: int = 2) -> str:
    """A bare number."""
    return "unknown" if value is None else f"{value:.{places}f}"


def at(seconds_in: float) -> str:
    """A time within a session as minutes and seconds: 02:05.4; a log may begin before its session does."""
    in_tenths = round(seconds_in * 10)
    whole, tenths = divmod(abs(in_tenths), 10)
    sign = "-" if in_tenths < 0 else ""
    return f"{sign}{whole // 60:02d}:{whole % 60:02d}.{tenths}"


def span(start_s: float, end_s: float) -> str:
    """A stretch of a session, with its length."""
    return f"{at(start_s)} to {at(end_s)} ({seconds(end_s - start_s)})"


def push_or_pull(value: float) -> str:
    """What a held control is called, and the trim that would relieve it."""
    if value > 0:
        return "a steady pull: nose-up trim is missing"
    if value < 0:
        return "a steady push: nose-down trim is missing"
    return "nothing held"


def _number(value: float | None, form: str, unit: str, *, signed: bool = False) -> str:
    if value is None:
        return "unknown"
    sign = "+" if signed else ""
    return f"{value:{sign}{form}} {unit}"
