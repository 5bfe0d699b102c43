"""Inputs made to do harm: links, pipes, bombs, formulas, private words, files beyond the limits."""

import gzip
import io
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from pipeline.cli.tables import as_csv, as_json
from pipeline.errors import UsageError
from pipeline.land.faults import RefusedFile
from pipeline.land.log_bytes import read_bytes
from pipeline.reading import open_warehouse
from pipeline.settings import Landing, Settings
from tests.inboxes import ROSTER, School, log_text, rules_of, school_with, session_line

ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize("name", ["roster.csv", "sessions.csv", "devices.csv"])
def test_a_paper_that_is_a_link_out_a_pipe_or_a_folder_is_not_opened(
    tmp_path: Path, name: str
) -> None:
    secret = tmp_path / "secret.csv"
    secret.write_text("student_id,cohort,start_date\nPRIVATE,X,2026-01-01\n")
    for make in ("link", "pipe", "folder", "loop"):
        school = school_with(tmp_path / make, "S1")
        (school.inbox / name).unlink(missing_ok=True)
        if make == "link":
            (school.inbox / name).symlink_to(secret)
        elif make == "pipe":
            os.mkfifo(school.inbox / name)
        elif make == "folder":
            (school.inbox / name).mkdir()
        else:
            (school.inbox / name).symlink_to(school.inbox / name)
        report = school.night()
        assert "not_a_file" in rules_of(report)
        kept = [p.read_bytes() for p in school.store.root.rglob("*") if p.is_file()]
        assert not any(b"PRIVATE" in content for content in kept)


def test_a_folder_that_leads_out_of_the_inbox_is_refused(tmp_path: Path) -> None:
    school = school_with(tmp_path, "S1")
    (school.inbox / "logs").rename(tmp_path / "elsewhere")
    (school.inbox / "logs").symlink_to(tmp_path / "elsewhere")
    report = school.night()
    assert rules_of(report) == ["not_a_file"]
    assert report.refusals[0].file == "logs"
    assert report.landed == ()


def test_a_link_within_the_inbox_is_followed(tmp_path: Path) -> None:
    school = school_with(tmp_path, "S1")
    (school.inbox / "logs/S1.csv").rename(school.inbox / "S1_original.csv")
    (school.inbox / "logs/S1.csv").symlink_to("../S1_original.csv")
    assert len(school.night().landed) == 1


def test_a_file_swapped_for_a_link_or_a_pipe_after_it_was_found_is_not_read(tmp_path: Path) -> None:
    (tmp_path / "link.csv").symlink_to("/etc/passwd")
    os.mkfifo(tmp_path / "pipe.csv")
    for name in ("link.csv", "pipe.csv"):
        with pytest.raises(RefusedFile) as refused:
            read_bytes(tmp_path / name, name, 1)
        assert [reason.rule for reason in refused.value.reasons] == ["not_a_file"]


@pytest.mark.parametrize(
    "name",
    ["..%2fS1.csv", "=cmd.csv", "-S1.csv", "@S1.csv", "S1\n.csv", "\u202eS1.csv", "..csv", ".csv"],
)
def test_a_file_name_that_could_do_harm_is_refused_or_harmless(tmp_path: Path, name: str) -> None:
    school = school_with(tmp_path, "S1")
    school.put(f"logs/{name}", log_text())
    report = school.night()
    assert len(report.landed) == 1
    for refusal in report.refusals:
        assert all(reason.sentence.isprintable() for reason in refusal.reasons)
    outside = {p for p in tmp_path.rglob("*") if p.is_file()}
    folders = (school.inbox, school.store.root)
    assert all(any(p.is_relative_to(f) for f in folders) for p in outside)


def _limits(**limits: float) -> Settings:
    return Settings(landing=Landing.model_validate(limits))


def test_each_limit_is_named_with_the_setting_that_raises_it(tmp_path: Path) -> None:
    school = school_with(tmp_path, "S1")
    named = {
        "max_log_mb": _limits(max_log_mb=0.001),
        "max_columns": _limits(max_columns=3),
        "max_paper_mb": _limits(max_paper_mb=0.00001),
        "max_paper_rows": _limits(max_paper_rows=1),
    }
    for name, limits in named.items():
        sentences = [r.sentence for x in school.night(settings=limits).refusals for r in x.reasons]
        assert any(f"landing.{name} in school.toml" in said for said in sentences), name
    school.night()
    assert len(school.rows("sessions")) == 1


def test_bombs_are_refused_before_they_unpack(tmp_path: Path) -> None:
    school = school_with(tmp_path, "S1", "S2", "S3")
    for name in ("S1", "S2", "S3"):
        (school.inbox / f"logs/{name}.csv").unlink()
    school.put("logs/S1.csv.gz", gzip.compress(b"\n" * 5_000_000) * 3)
    columns = {"time_s": pa.repeat(1.0, 900_000), "altitude_ft": pa.repeat(1.0, 900_000)}
    sink = io.BytesIO()
    pq.write_table(pa.table({**columns, "heading_deg": pa.repeat(1.0, 900_000)}), sink)
    school.put("logs/S2.parquet", sink.getvalue())
    words = {name: pa.repeat("4" * 3_000, 40_000) for name in ("time_s", "altitude_ft")}
    sink = io.BytesIO()
    pq.write_table(pa.table({**words, "heading_deg": pa.repeat(1.0, 40_000)}), sink)
    assert len(sink.getvalue()) < 100_000
    school.put("logs/S3.parquet", sink.getvalue())
    assert rules_of(school.night(settings=_limits(max_log_mb=10))) == [
        "too_large",
        "too_large",
        "wrong_type",
    ]


DIES_READING = """
import os, sys
from datetime import UTC, datetime
from pathlib import Path
from pipeline.land import landing
from pipeline.settings import Settings
from pipeline.store import Warehouse

read = landing.read_log
landing.read_log = lambda content, file, *rest: os._exit(6) if "S2" in file else read(content, file, *rest)
now = datetime(2026, 3, 28, 20, tzinfo=UTC)
landing.land_inbox(Path(sys.argv[1]), Warehouse(Path(sys.argv[2])), Settings(), now)
"""


def _dies_reading(school: School) -> None:
    """A night that ends within the library that reads a Parquet log, where nothing can be caught."""
    paths = [str(school.inbox), str(school.store.root)]
    done = subprocess.run([sys.executable, "-c", DIES_READING, *paths], cwd=ROOT, check=False)
    assert done.returncode == 6


def test_a_log_on_which_two_runs_died_is_refused_and_one_death_is_forgiven(tmp_path: Path) -> None:
    school = school_with(tmp_path, "S1", "S2", "S3")
    sink = io.BytesIO()
    columns = {"time_s": [0.0, 1.0], "altitude_ft": [4000.0, 4001.0], "heading_deg": [90.0, 91.0]}
    pq.write_table(pa.table(columns), sink)
    for name in ("S1", "S2", "S3"):
        (school.inbox / f"logs/{name}.csv").unlink()
        school.put(f"logs/{name}.parquet", sink.getvalue())
    other = io.BytesIO()
    pq.write_table(pa.table({**columns, "power": [0.5, 0.6]}), other)
    school.put("logs/S2.parquet", other.getvalue())
    _dies_reading(school)
    _dies_reading(school)
    report = school.night()
    assert [landed.session_id for landed in report.landed] == ["S1", "S3"]
    (refusal,) = report.refusals
    assert [reason.rule for reason in refusal.reasons] == ["ended_the_run"]
    assert school.night().new_refusals == ()
    once = School(tmp_path / "once")
    shutil.copytree(school.inbox, once.inbox)
    _dies_reading(once)
    assert len(once.night().landed) == 3


def test_a_line_without_end_is_refused_and_a_heading_of_a_megabyte_too(tmp_path: Path) -> None:
    school = school_with(tmp_path, "S1", "S2")
    school.put("logs/S1.csv", "t" * 2_000_000)
    school.put("logs/S2.csv", "time_s,altitude_ft,heading_deg\n0,1," + "9" * 2_000_000)
    assert rules_of(school.night()) == ["line_too_long", "all_null"]


def test_five_thousand_columns_land_where_the_school_allows_them(tmp_path: Path) -> None:
    extra = ",".join(f"c{i}" for i in range(4997))
    rows = "".join(f"{i},4000,90{',1' * 4997}\n" for i in range(20))
    text = f"time_s,altitude_ft,heading_deg,{extra}\n{rows}"
    school = school_with(tmp_path, "S1", text=text)
    assert rules_of(school.night()) == ["too_many_columns"]
    assert len(school.night(settings=_limits(max_columns=5000)).landed) == 1


@pytest.mark.slow
def test_ten_million_rows_land_where_the_school_allows_them(tmp_path: Path) -> None:
    count = 10_000_000
    rows = "".join(f"{i / 100:.2f},{4000 + i % 7},{90 + i % 3}\n" for i in range(count))
    school = school_with(tmp_path, "S1", text=f"time_s,altitude_ft,heading_deg\n{rows}")
    report = school.night(settings=_limits(max_log_mb=1000))
    assert [landed.sample_count for landed in report.landed] == [count]


@pytest.mark.slow
def test_a_hundred_thousand_tiny_files_are_looked_at_in_one_night(tmp_path: Path) -> None:
    school = school_with(tmp_path, "S1")
    for i in range(100_000):
        school.put(f"logs/T{i}.csv", "x")
    school.sessions(session_line("S1"), *(session_line(f"T{i}") for i in range(300)))
    report = school.night()
    assert (len(report.landed), len(report.refusals)) == (1, 300)
    assert len(report.waiting) == 99_700


def test_nothing_that_names_a_person_is_in_a_sentence(tmp_path: Path) -> None:
    school = school_with(tmp_path, "S1", "S2")
    school.put(
        "roster.csv",
        ROSTER + "=Ada,2026A,2026-02-01,\nTH09,2026A,Byron,x\nTH01,2026B,2026-02-01,\n",
    )
    school.sessions(
        session_line("S1", "Lovelace"),
        session_line("S2", "@Ada"),
        "S3,TH01,2026-03-14T09:00Z,,,-Ada,\n",
    )
    report = school.night()
    said = [r.sentence + str(r.value) for x in report.refusals for r in x.reasons]
    said += [w.sentence for w in report.waiting] + list(report.warnings)
    assert len(said) >= 6
    for name in ("Ada", "Byron", "Lovelace", "TH01", "TH09"):
        assert not [sentence for sentence in said if name in sentence]


def test_a_damaged_row_is_not_quoted(tmp_path: Path) -> None:
    rows = "0,4000,90,Ada Lovelace\n" * 100_500
    school = school_with(tmp_path, "S1", text=f"time_s,altitude_ft,heading_deg\n{rows}")
    (refusal,) = school.night().refusals
    assert "Ada" not in " ".join(reason.sentence for reason in refusal.reasons)


def test_csv_for_a_spreadsheet_holds_no_formula() -> None:
    rows = [
        ("=HYPERLINK(1)", -1.5, "@x"),
        ("+1", None, " -2+3"),
        ("plain", 2.0, "a=b"),
        ("\t=1", -3, "\r@x"),
    ]
    text = as_csv(["=name", "value", "note"], rows)
    assert text.splitlines() == [
        "'=name,value,note",
        "'=HYPERLINK(1),-1.5,'@x",
        "'+1,,'-2+3",
        "plain,2.0,a=b",
        "'=1,-3,'@x",
    ]
    assert '"=HYPERLINK(1)"' in as_json(["a"], [("=HYPERLINK(1)",)])


def _school(tmp_path: Path) -> School:
    school = school_with(tmp_path, "S1")
    school.night()
    return school


@pytest.mark.parametrize(
    "query",
    [
        "SELECT * FROM read_text('/etc/passwd')",
        "SELECT * FROM read_csv('/etc/passwd')",
        "SELECT * FROM '/etc/passwd'",
        "SELECT * FROM glob('/etc/*')",
        "SELECT * FROM read_text('{store}/../secret.txt')",
        "INSTALL httpfs",
        "LOAD httpfs",
        "ATTACH '/tmp/other.db'",
        "COPY (SELECT 1) TO '/tmp/stolen.csv'",
        "SET enable_external_access = true",
        "SET allowed_directories = ['/']",
    ],
)
def test_the_database_reads_nothing_beside_the_warehouse(tmp_path: Path, query: str) -> None:
    import duckdb

    school = _school(tmp_path)
    (tmp_path / "secret.txt").write_text("secret")
    con = open_warehouse(school.store, Settings(), ["sessions"])
    assert con.execute("SELECT COUNT(*) FROM sessions").fetchall() == [(1,)]
    with pytest.raises(duckdb.Error):
        con.execute(query.format(store=school.store.root)).fetchall()


def test_the_command_answers_one_select_and_nothing_else() -> None:
    from pipeline.cli.ask import _refuse_all_but_select

    for query in ("LOAD httpfs", "SELECT 1; SELECT 2", "DROP VIEW sessions", "SET threads = 1"):
        with pytest.raises(UsageError):
            _refuse_all_but_select(query)
