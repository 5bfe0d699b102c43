"""Logs with faults planted in them, drawn by a random generator: the same seed, the same bytes."""

import gzip
import random
from collections.abc import Callable
from dataclasses import dataclass, field

COLUMNS = ("time_s", "altitude_ft", "heading_deg", "vertical_speed_fpm", "airspeed_kt")
BAD_CELLS = (
    *("x", "nan", "inf", "-inf", "NULL", "1e9", "-2001", "721", "--5", "1e", "0x10", "12:00"),
    *("=SUM(A1)", "<b>4000</b>", "\x1b[31m", "ＮＡＮ", "9" * 400, "😀", "1e999", "None"),
)
ODD_GOOD_CELLS = ("4000.", ".5", "+12", "4e3", " 4000 ", "\t4000", "0", "-0.0", "359.99999999")


@dataclass
class Draft:
    """A log being spoiled: its heading and rows as text, then its bytes."""

    draw: random.Random
    header: list[str]
    rows: list[list[str]]
    newline: str = "\n"
    faults: list[str] = field(default_factory=list)

    def row(self) -> list[str]:
        """One row, at random."""
        return self.draw.choice(self.rows) if self.rows else []

    def text(self) -> str:
        """The log as it stands."""
        return self.newline.join(",".join(row) for row in (self.header, *self.rows)) + self.newline


def clean_draft(draw: random.Random) -> Draft:
    """A sound log of 1 to 150 rows at 1, 4 or 10 Hz."""
    count, rate = draw.choice((1, 2, 5, 30, 80, 150)), draw.choice((1, 4, 10))
    width = draw.randint(3, len(COLUMNS))
    base = (draw.randint(1000, 9000), draw.randint(0, 359), 0, 100)
    rows = [
        [f"{i / rate:g}", *(f"{b + draw.randint(-4, 4)}" for b in base[: width - 1])]
        for i in range(count)
    ]
    return Draft(draw, list(COLUMNS[:width]), rows)


def _bad_cells(draft: Draft) -> None:
    for _ in range(draft.draw.choice((1, 1, 2, 9))):
        row = draft.row()
        if row:
            row[draft.draw.randrange(len(row))] = draft.draw.choice(BAD_CELLS)


def _odd_cells(draft: Draft) -> None:
    row = draft.row()
    if len(row) > 1:
        row[1] = draft.draw.choice(ODD_GOOD_CELLS)


def _blank_cells(draft: Draft) -> None:
    for _ in range(draft.draw.choice((1, 5, 40))):
        row = draft.row()
        if row:
            row[draft.draw.randrange(len(row))] = ""


def _ragged(draft: Draft) -> None:
    row = draft.row()
    if row and draft.draw.random() < 0.5:
        row.append("7")
    elif len(row) > 1:
        row.pop()


def _twice(draft: Draft) -> None:
    if draft.rows:
        at = draft.draw.randrange(len(draft.rows))
        draft.rows.insert(at, list(draft.rows[at]))


def _moved(draft: Draft) -> None:
    if draft.rows:
        row = draft.rows.pop(draft.draw.randrange(len(draft.rows)))
        draft.rows.insert(draft.draw.randint(0, len(draft.rows)), row)


def _shuffled(draft: Draft) -> None:
    draft.draw.shuffle(draft.rows)


def _spike(draft: Draft) -> None:
    row = draft.row()
    if len(row) > 1:
        row[1] = str(draft.draw.choice((50_000, -1900, 0)))


def _no_rows(draft: Draft) -> None:
    draft.rows.clear()


def _cut(draft: Draft) -> None:
    del draft.rows[draft.draw.randint(0, len(draft.rows)) :]


def _lost_column(draft: Draft) -> None:
    at = draft.draw.randrange(len(draft.header))
    for row in (draft.header, *draft.rows):
        del row[at : at + 1]


def _column_twice(draft: Draft) -> None:
    at = draft.draw.randrange(len(draft.header))
    for row in (draft.header, *draft.rows):
        row.append(row[at] if at < len(row) else "")


def _renamed(draft: Draft) -> None:
    at = draft.draw.randrange(len(draft.header))
    draft.header[at] = draft.draw.choice(("Altitude", "", " ", "time", "=1+1", "alt\u202eft"))


def _spaced_names(draft: Draft) -> None:
    draft.header[:] = [f" {name} " for name in draft.header]


def _extra_column(draft: Draft) -> None:
    for row in draft.rows:
        row.append("note")
    draft.header.append(draft.draw.choice(("oil_temp", "<script>", "Ö", "x" * 300)))


def _windows_lines(draft: Draft) -> None:
    draft.newline = "\r\n"


ROW_FAULTS: tuple[Callable[[Draft], None], ...] = (
    *(_bad_cells, _bad_cells, _odd_cells, _blank_cells, _ragged, _twice, _moved, _shuffled, _spike),
    *(_no_rows, _cut, _lost_column, _column_twice, _renamed, _spaced_names, _extra_column),
    _windows_lines,
)


def _as_bytes(draft: Draft) -> bytes:
    """The text in bytes, now and then with a mark, in another encoding or another delimiter."""
    text = draft.text()
    kind = draft.draw.randrange(40)
    if kind == 0:
        return text.encode("utf-16")
    if kind == 1:
        return b"\xef\xbb\xbf" + text.encode()
    if kind == 2:
        return text.replace(",", draft.draw.choice(";\t|")).encode()
    if kind == 3:
        return text.encode() + b"\0"
    if kind == 4:
        return (text + "é").encode("latin-1", "replace")
    if kind == 5:
        return b" \n\n"[: draft.draw.randint(0, 3)]
    return text.encode()


def planted(seed: int) -> bytes:
    """A log with none to four faults planted in it; the reference says what it should come to."""
    draft = clean_draft(random.Random(seed))
    for _ in range(draft.draw.choice((0, 1, 1, 2, 3, 4))):
        draft.draw.choice(ROW_FAULTS)(draft)
    return _as_bytes(draft)


def scrambled(seed: int) -> bytes:
    """A log with bytes changed, cut, doubled or moved: nobody knows what it should come to."""
    draw = random.Random(seed)
    content = bytearray(clean_draft(draw).text().encode())
    for _ in range(draw.choice((1, 3, 30))):
        content[draw.randrange(len(content))] = draw.choice((draw.randrange(256), 34, 10, 13, 44))
    at = draw.randrange(len(content))
    how = draw.randrange(5)
    return bytes(
        (content, content[:at], content[at:] + content[:at], content * 2, content[at:])[how]
    )


def _lichen_row(i: int) -> str:
    return f"14.03.2026;10:00:{i % 60:02d};{1200 + i % 5},5;{i % 360},25;0,1;-{i % 9};---\r\n"


def _sedge_row(i: int) -> str:
    return f"{1773478800000 + 250 * i}\t{5000 + i % 4}\t1.57{i % 9}\t30.{i % 9}\t2048\tAIR\n"


def _tern_row(i: int) -> str:
    return f"2026-03-14T09:00:{i % 60:02d}.5,4000,{i % 360},60.{i},10.{i},-1.{i % 9}\n"


RECORDERS: dict[str, tuple[str, str, Callable[[int], str]]] = {
    "lichen": (
        "latin-1",
        "bench\r\nof\r\nTarn Hollow\r\n"
        "Day;Hour;Height;Course;Climb;Lean;Trim wheel\r\n;;m;deg;m/s;deg;%\r\n",
        _lichen_row,
    ),
    "sedge": ("utf-16", "stamp\tpalt\tpsi\tbaro\televi\twow\n", _sedge_row),
    "tern": ("utf-8", "made up\nutc,alt_ind,hdg_true,lat,lon,yoke_deg\n", _tern_row),
}
"""The shipped profiles' forms: encoding, what stands above the samples, and one row."""


def foreign(seed: int) -> tuple[str, bytes]:
    """The log of another recorder, with bytes changed or cut; and the recorder's name."""
    draw = random.Random(seed)
    name = draw.choice(sorted(RECORDERS))
    encoding, head, row = RECORDERS[name]
    text = head + "".join(row(i) for i in range(draw.choice((1, 20, 60))))
    content = bytearray(text.encode(encoding))
    for _ in range(draw.choice((0, 1, 2, 10))):
        content[draw.randrange(len(content))] = draw.choice((draw.randrange(256), 59, 44, 34, 10))
    if draw.random() < 0.2:
        del content[draw.randrange(len(content)) :]
    return name, bytes(content)


def damaged_gzip(seed: int) -> bytes:
    """A packed log, whole, cut off or with a few bytes changed."""
    draw = random.Random(seed)
    packed = bytearray(gzip.compress(clean_draft(draw).text().encode(), mtime=0))
    how = draw.randrange(4)
    if how == 1:
        del packed[draw.randrange(len(packed)) :]
    elif how == 2:
        for _ in range(draw.randint(1, 3)):
            packed[draw.randrange(len(packed))] = draw.randrange(256)
    elif how == 3:
        packed += draw.randbytes(draw.randint(1, 20))
    return bytes(packed)
