"""`levelhold nightly --dry-run`: what a night would do, and not one byte written."""

import json
from pathlib import Path

from tests.cli.conftest import Run, write_inbox
from tests.cli.test_nightly import digests


def test_it_tells_what_the_night_then_does_and_makes_no_warehouse(run: Run, tmp_path: Path) -> None:
    where = ("--inbox", write_inbox(tmp_path / "inbox"), "--warehouse", tmp_path / "warehouse")
    before = digests(tmp_path / "inbox")
    done = run("nightly", "--dry-run", *where)
    assert done.code == 3, done.err
    assert done.out.startswith("dry run: ")
    assert "landed 1 session" in done.out
    assert "refused: logs/s2.csv: the file is empty" in done.out
    assert "quarantine" not in done.out
    assert "would measure 1 samples file," in done.out
    assert not (tmp_path / "warehouse").exists()
    assert digests(tmp_path / "inbox") == before

    would = json.loads(run("nightly", "--dry-run", "--json", *where).out)["landing"]
    did = json.loads(run("ingest", "--json", *where).out)
    assert would["landed"] == did["landed"]
    assert would["refusals"] == [{**r, "quarantined_as": None} for r in did["refusals"]]


def test_a_store_with_leavings_of_a_killed_run_is_left_as_it_is(run: Run, tmp_path: Path) -> None:
    """A night sweeps such files away; a dry run reaches none of them through its links."""
    inbox, warehouse = write_inbox(tmp_path / "inbox"), tmp_path / "warehouse"
    run("ingest", "--inbox", inbox, "--warehouse", warehouse)
    strays = (
        "samples/session_date=2026-02-02/b20260101T000000Z-abcdef.parquet",
        "measures/d/excursions/session_date=2026-02-02/b20260101T000000Z-abcdef.parquet",
        "profiles/.ours.toml.part",
    )
    for name in strays:
        (warehouse / name).parent.mkdir(parents=True, exist_ok=True)
        (warehouse / name).write_text("half")
    log = inbox / "logs" / "s1.csv"
    log.write_text(log.read_text().replace(",90\n", ",91\n"))
    before = digests(warehouse)
    done = run("nightly", "--dry-run", "--inbox", inbox, "--warehouse", warehouse)
    assert done.code == 0, done.err
    assert "revised s1 (revision 2): log changed" in done.out
    assert "refused before and unchanged: 1" in done.out
    assert "would measure 2 samples files," in done.out
    assert digests(warehouse) == before
