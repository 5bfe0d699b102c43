"""How a fault is put into one sentence, and the exception that carries a refused file's reasons."""

from collections.abc import Iterable

from pipeline.reports import Reason

SHOWN_LENGTH = 40
LONGEST_MESSAGE = 80


class RefusedFile(Exception):
    """One input file cannot be taken; `reasons` holds every fault that was found in it."""

    def __init__(self, reasons: Iterable[Reason]) -> None:
        self.reasons = tuple(reasons)
        super().__init__("; ".join(reason.sentence for reason in self.reasons))


def shown(value: object) -> str:
    """A value from a file as short, printable text: nothing in it can steer a terminal or break the
    line.
    """
    # A stored float32 has some seven true digits; more would show rounding as if it were data.
    spelled = f"{value:.7g}" if isinstance(value, float) else str(value)
    text = "".join(c if c.isprintable() else ascii(c)[1:-1] for c in spelled[: SHOWN_LENGTH + 1])
    return text if len(text) <= SHOWN_LENGTH else text[: SHOWN_LENGTH - 1] + "…"


def make_reason(
    rule: str,
    file: str,
    said: str,
    mend: str,
    *,
    row: int | None = None,
    column: str | None = None,
    value: object = None,
) -> Reason:
    """A reason whose sentence names file, row, column, what is wrong and what to do, in that
    order.
    """
    rows = () if row is None else (f"{'row' if file.endswith('.parquet') else 'line'} {row}",)
    columns = () if column is None else (f"column {shown(column)}",)
    where = ", ".join((shown_path(file), *rows, *columns))
    return Reason(
        rule=rule,
        sentence=f"{where}: {said}; {mend}",
        file=file,
        row=row,
        column=None if column is None else shown(column),
        value=None if value is None else shown(value),
    )


def shown_error(error: Exception) -> str:
    """The first sentence of a library's message, printable and cut: it may quote the damaged file."""
    first = str(error).split("\n", 1)[0].split(". ", 1)[0]
    return shown_path(first[:LONGEST_MESSAGE])


def shown_path(file: str) -> str:
    """A path inside the inbox as printable text, uncut."""
    return "".join(c if c.isprintable() else ascii(c)[1:-1] for c in file)
