"""Reviews: what instructors add is stored, shown, and deletes nothing."""

import subprocess
import sys
from datetime import UTC, date, datetime
from pathlib import Path

import pyarrow as pa
import pytest

from pipeline.errors import LockHeld, UsageError
from pipeline.reading import open_warehouse
from pipeline.schema.tables import ROSTER, SESSIONS
from pipeline.settings import Settings
from pipeline.store import Warehouse, read_metadata, write_parquet
from pipeline.trend import acknowledge, reassign, set_aside, withdraw

NOW = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)
SETTINGS = Settings()


@pytest.fixture
def store(tmp_path: Path) -> Warehouse:
    """Two students, TH01 with one session, TH02 with none; no logs."""
    warehouse = Warehouse(tmp_path)
    roster = [
        {"student_id": s, "cohort": "c1", "row_sha256": "x", "batch_id": "b1"}
        for s in ("TH01", "TH02")
    ]
    session = {f.name: None for f in SESSIONS} | {
        "session_id": "s1",
        "revision": 1,
        "batch_id": "b1",
        "student_id": "TH01",
        "session_date": date(2026, 3, 27),
        "started_at": datetime(2026, 3, 27, 9, tzinfo=UTC),
        "recorder": "canonical",
        "sample_count": 0,
        "log_name": "s1.csv",
        "log_sha256": "x",
        "row_sha256": "x",
        "channels": [],
        "sparse_channels": [],
        "gates": [],
        "time_column": "time_s",
    }
    write_parquet(
        pa.Table.from_pylist(roster, schema=ROSTER), warehouse.table_path("roster", "b1"), {}
    )
    write_parquet(
        pa.Table.from_pylist([session], schema=SESSIONS), warehouse.table_path("sessions", "b1"), {}
    )
    return warehouse


def rows(store: Warehouse, query: str, *names: str) -> list[tuple[object, ...]]:
    return open_warehouse(store, SETTINGS, names).execute(query).fetchall()


def test_an_acknowledgement_is_a_file_of_its_own_and_is_read_back(store: Warehouse) -> None:
    review = acknowledge(
        store, SETTINGS, "TH01", "altitude", " seen, flying again Friday ", NOW, date(2026, 4, 3)
    )
    (path,) = store.table_files("reviews")
    assert path.stem == review.review_id
    assert read_metadata(path)["kind"] == "reviews"
    found = rows(
        store, "SELECT kind, student_id, aspect, note, made_at, until FROM reviews", "reviews"
    )
    assert found == [
        ("acknowledge", "TH01", "altitude", "seen, flying again Friday", NOW, date(2026, 4, 3))
    ]


def test_two_reviews_in_one_second_are_two_files(store: Warehouse) -> None:
    acknowledge(store, SETTINGS, "TH01", "altitude", "one", NOW)
    acknowledge(store, SETTINGS, "TH01", "altitude", "two", NOW)
    assert len(store.table_files("reviews")) == 2


def test_an_unknown_student_or_aspect_is_refused_with_the_nearest_name(store: Warehouse) -> None:
    with pytest.raises(
        UsageError, match=r"no student 'TH1' in this warehouse; did you mean TH01\?"
    ):
        acknowledge(store, SETTINGS, "TH1", "altitude", "x", NOW)
    with pytest.raises(UsageError, match=r"did you mean heading\?"):
        acknowledge(store, SETTINGS, "TH01", "headings", "x", NOW)
    assert store.table_files("reviews") == ()


@pytest.mark.parametrize("note", ["", "  \n", "x" * 1001, "a\x00b"])
def test_a_note_must_be_plain_text_of_some_length(store: Warehouse, note: str) -> None:
    with pytest.raises(UsageError, match="--note"):
        acknowledge(store, SETTINGS, "TH01", None, note, NOW)


def test_a_date_that_has_passed_is_refused(store: Warehouse) -> None:
    with pytest.raises(UsageError, match="has passed"):
        acknowledge(store, SETTINGS, "TH01", None, "x", NOW, date(2026, 3, 27))


def test_a_withdrawn_session_counts_no_more_and_is_still_stored(store: Warehouse) -> None:
    withdraw(store, SETTINGS, "s1", "wrong log", NOW)
    assert rows(store, "SELECT session_id FROM sessions", "sessions") == []
    assert rows(store, "SELECT session_id FROM stored_sessions", "stored_sessions") == [("s1",)]


def test_a_reassigned_session_counts_for_the_other_student(store: Warehouse) -> None:
    reassign(store, SETTINGS, "s1", "TH02", "logged under the wrong code", NOW)
    assert rows(store, "SELECT student_id FROM sessions", "sessions") == [("TH02",)]


def test_a_session_is_set_aside_and_an_unknown_target_is_refused(store: Warehouse) -> None:
    assert set_aside(store, SETTINGS, "s1", "traffic", NOW, "trim").session_id == "s1"
    with pytest.raises(UsageError, match="no session or maneuver 's9'"):
        set_aside(store, SETTINGS, "s9", "traffic", NOW)


def test_while_a_night_runs_a_review_waits(store: Warehouse) -> None:
    hold = (
        "import sys; from datetime import UTC, datetime; from pathlib import Path;"
        "from pipeline.store import Warehouse, hold_lock\n"
        "with hold_lock(Warehouse(Path(sys.argv[1])), 'nightly', datetime(2026, 3, 28, tzinfo=UTC)):\n"
        "    print('held', flush=True); sys.stdin.read()"
    )
    command = [sys.executable, "-c", hold, str(store.root)]
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as other:
        assert other.stdout is not None
        assert other.stdout.readline() == "held\n"
        with pytest.raises(LockHeld, match="nightly"):
            acknowledge(store, SETTINGS, "TH01", None, "x", NOW)
        other.communicate("")
    assert store.table_files("reviews") == ()
