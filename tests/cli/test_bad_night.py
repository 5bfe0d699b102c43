"""A bad night as its operator meets it: twelve kinds of bad log among two hundred good ones."""

import gzip
import io
import re
from collections.abc import Callable
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from tests.cli.conftest import Run

HEADING = "time_s,altitude_ft,heading_deg"
ROWS = 60


def log(heading: str = HEADING, row: Callable[[int], str] | None = None) -> bytes:
    """A log of one sample a second; `row` writes the i-th row otherwise."""
    rows = (row(i) if row else f"{i},{4000 + i % 7},{90 + i % 3}" for i in range(ROWS))
    return "\n".join([heading, *rows, ""]).encode()


def parquet() -> bytes:
    """The same log as Parquet."""
    seconds = [float(i) for i in range(ROWS)]
    table = pa.table(
        {
            "time_s": seconds,
            "altitude_ft": [4000.0 + i % 7 for i in range(ROWS)],
            "heading_deg": seconds,
        }
    )
    buffer = io.BytesIO()
    pq.write_table(table, buffer)
    return buffer.getvalue()


BAD = {
    "B01.csv": (b"", "the file is empty; deliver it again"),
    "B02.csv": (f"{HEADING}\n".encode(), "no row below it; deliver the log again"),
    "B03.csv": (bytes(range(256)), "this is not text.*; deliver the log as CSV text"),
    "B04.csv.gz": (gzip.compress(log())[:-40], "the gzip file is cut off; copy it again"),
    "B05.parquet": (parquet()[:-30], "not a readable Parquet file.*; copy it again"),
    "B06.csv": (log().replace(b",", b";"), "separated by ';', not by a comma; save it with commas"),
    "B07.csv": (
        log(f"{HEADING},remark", lambda i: f"{i},4000,90,gr\xfcn").replace(b"\xc3\xbc", b"\xfc"),
        "line 2: byte 0xfc is not UTF-8; save it as UTF-8",
    ),
    "B08.csv": (
        log("time_s,height,heading_deg"),
        "altitude_ft: the required column is missing; add .*, or name what holds it in a profile",
    ),
    "B09.csv": (log(row=lambda i: f"{ROWS - i},4000,90"), "go back in time; deliver the log again"),
    "B10.csv": (
        log("timestamp,altitude_ft,heading_deg", lambda i: f"2026-03-20T08:00:{i:02},4000,90"),
        "times have no offset from UTC; write them with Z",
    ),
    "B11.csv": (
        log(row=lambda i: f"{i},{'----' if i % 5 == 0 else 4000},90"),
        r"12 of 60 values \(20.0 %\) are not a number .* the first is '----'; deliver the log again",
    ),
    "B12.csv.gz": (
        gzip.compress(bytes(9_000_000)),
        "larger than the limit of 8 MB; .* landing.max_log_mb in",
    ),
}
"""By file: what is in it, and what its one line says, the way out at its end."""


def write_bad_night(root: Path) -> Path:
    """An inbox of 20 students with 200 good sessions and those of BAD; the limit of a log is 8 MB."""
    inbox = root / "inbox"
    for folder in (inbox / "logs", inbox / "tasks", root / "warehouse"):
        folder.mkdir(parents=True)
    (root / "warehouse" / "school.toml").write_text("[landing]\nmax_log_mb = 8\n")
    students = [f"TH{i:02}" for i in range(1, 21)]
    (inbox / "roster.csv").write_text(
        "student_id,cohort,start_date\n" + "".join(f"{s},2026A,2026-02-01\n" for s in students)
    )
    lines = ["session_id,student_id,started_at,device_id,aircraft_type,instructor_id,lesson"]
    names = [f"G{i:03}.csv" for i in range(200)]
    for i, name in enumerate((*names, *BAD)):
        session_id = name.split(".")[0]
        started_at = f"2026-03-{1 + i // 20:02}T{8 + i % 10:02}:00:00Z"
        lines.append(f"{session_id},{students[i % 20]},{started_at},SIM-1,trainer,I1,level flight")
        (inbox / "logs" / name).write_bytes(BAD[name][0] if name in BAD else log())
        (inbox / "tasks" / f"{session_id}.csv").write_text(
            "start_s,end_s,kind,target_altitude_ft,target_heading_deg\n0,55,level,4000,90\n"
        )
    (inbox / "sessions.csv").write_text("\n".join([*lines, ""]))
    return inbox


@pytest.mark.slow
def test_a_bad_night_says_in_a_line_a_file_what_to_do_and_takes_what_was_mended(
    run: Run, tmp_path: Path
) -> None:
    inbox = write_bad_night(tmp_path)
    night = ("nightly", "--inbox", inbox, "--warehouse", tmp_path / "warehouse")
    first = run(*night)
    assert (first.code, first.err) == (3, "")
    head, *lines = first.out.splitlines()
    assert head == "landed 200 sessions, 0 already there, 12 refused"
    refused = [line for line in lines if line.startswith("refused: ")]
    for line, (name, (_, said)) in zip(refused, BAD.items(), strict=True):
        assert re.match(rf"refused: logs/{re.escape(name)}[:,] .*{said}", line), line
        assert line.isprintable()
    assert sum("mend these 12 in the inbox, and the next night takes them" in x for x in lines) == 1
    assert len(lines) < len(BAD) + 8, "a night is told in a screen"
    copies = sorted(p.name for p in (tmp_path / "warehouse" / "quarantine").rglob("B*"))
    assert copies == sorted(n for name in BAD for n in (name, f"{name}.reason.json"))

    mended = list(BAD)[:9]
    for name in mended:
        (inbox / "logs" / name).unlink()
        (inbox / "logs" / f"{name.split('.')[0]}.csv").write_bytes(log())
    second = run(*night)
    assert (second.code, second.err) == (0, "")
    assert "landed 9 sessions, 200 already there" in second.out
    assert "refused before and unchanged: 3 (levelhold status names them)" in second.out
    status = run("status", "--warehouse", tmp_path / "warehouse").out
    assert [x.split()[1] for x in status.splitlines() if x.startswith("refused: ")] == [
        f"logs/{name}{',' if name != 'B12.csv.gz' else ':'}" for name in list(BAD)[9:]
    ]
