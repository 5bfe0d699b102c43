"""What is cut short, and how it is judged afterwards: nothing lost, nothing double, nothing half."""

from abc import ABC, abstractmethod
from datetime import timedelta
from itertools import product
from pathlib import Path

import pyarrow.parquet as pq

from pipeline import trend
from pipeline.land import land_inbox
from pipeline.land.forget import forget_student
from pipeline.land.mentions import Named, files_that_name
from pipeline.measure import measure_warehouse
from pipeline.pages.publish import publish
from pipeline.store import (
    Warehouse,
    audit_store,
    back_up,
    compact,
    hold_lock,
    sweep,
    write_parquet,
)
from tests.inboxes import NOW, School, session_line
from tests.stores import SETTINGS, Rows, busy_school, kept_rows, measured

LATER = NOW + timedelta(days=9)
NOTHING, ALL = "nothing of it", "all of it"


class Scenario(ABC):
    """One piece of work on a school in a folder."""

    name: str

    @abstractmethod
    def prepare(self, root: Path) -> None:
        """Make the school before the work."""

    @abstractmethod
    def act(self, root: Path) -> None:
        """Do the work: what is cut short."""

    @abstractmethod
    def judge(self, root: Path, whole: Path) -> str:
        """Say how much of the work was there; `whole` is a school where it was not cut short.

        Finishes the work the way the next run would. An AssertionError is a loss, a double or a half.
        """


def is_sound(store: Warehouse) -> None:
    """Nothing is left by a run that ended, and no file is wrong."""
    assert audit_store(store) == []
    assert list(store.root.rglob("*.part")) == []
    assert not store.change_folder.exists()


class Landing(Scenario):
    """A night with two sessions of two dates, tasks, a roster, and a broken log."""

    name = "land"

    def prepare(self, root: Path) -> None:
        school = busy_school(root, nights=1)
        lines = (school.inbox / "sessions.csv").read_text().splitlines(keepends=True)[1:]
        more = [session_line("B1", "TH02", f"2026-03-1{d}T08:00:00Z") for d in (5,)]
        more += [session_line("C1", "TH02", "2026-03-16T08:00:00Z"), session_line("X1")]
        school.sessions(*lines, *more)
        for session_id in ("B1", "C1"):
            for folder in ("logs", "tasks"):
                text = (school.inbox / folder / "A1.csv").read_text()
                school.put(f"{folder}/{session_id}.csv", text)
        school.put("logs/X1.csv", "broken")
        school.put(
            "devices.csv",
            "device_id,device_class,control,valid_from\nSIM-1,simulator,centring,2026-01-01\n",
        )

    def act(self, root: Path) -> None:
        school = School(root)
        land_inbox(school.inbox, school.store, SETTINGS, LATER)

    def judge(self, root: Path, whole: Path) -> str:
        school = School(root)
        landed = {row["session_id"] for row in school.rows("sessions")}
        assert landed in ({"A1"}, {"A1", "B1", "C1"})
        report = school.night(LATER)
        assert len(report.landed) + report.already_landed == 3
        assert len(report.refusals) == 1
        assert len(list(school.store.quarantine.rglob("X1.csv"))) == 1
        assert facts(school.store) == facts(School(whole).store)
        assert school.night(LATER).swept_files == 0
        is_sound(school.store)
        return ALL if "B1" in landed else NOTHING


def facts(store: Warehouse) -> Rows:
    """What is stored, whichever batch brought it."""
    return {name: rows for name, rows in kept_rows(store).items() if name != "roster"}


class Measuring(Scenario):
    """Measuring two samples files for the first time."""

    name = "measure"

    def prepare(self, root: Path) -> None:
        busy_school(root, nights=2)

    def act(self, root: Path) -> None:
        store = School(root).store
        with hold_lock(store, "score", LATER):
            measure_warehouse(store, SETTINGS)

    def judge(self, root: Path, whole: Path) -> str:
        store = School(root).store
        before, wanted = kept_rows(store), kept_rows(School(whole).store)
        for name, rows in before.items():
            assert set(map(repr, rows)) <= set(map(repr, wanted[name]))
        with hold_lock(store, "score", LATER):
            sweep(store)
        measured(School(root))
        assert kept_rows(store) == wanted
        is_sound(store)
        return ALL if before == wanted else NOTHING if not before["channel_sums"] else "a part"


class Forgetting(Scenario):
    """Forgetting a student of two who has left traces everywhere."""

    name = "forget"
    named = Named("TH01", frozenset({"A1", "C1"}))

    def prepare(self, root: Path) -> None:
        school = busy_school(root, nights=3)
        store = school.store
        for name, path in product(("air_readings", "channel_sums"), store.sample_files()):
            target = store.measures / "d" / name / path.parent.name / path.name
            table = pq.read_table(path, columns=["session_id", "t_ms"], partitioning=None)
            write_parquet(table, target, {"kind": name, "fingerprint": "f"})
        trend.acknowledge(store, SETTINGS, "TH01", None, "seen", NOW)
        store.pages.mkdir()
        (store.pages / "TH01.html").write_text("TH01")
        store.runs.mkdir()
        (store.runs / "r1.json").write_text('{"landed": ["A1", "B1"]}')

    def act(self, root: Path) -> None:
        forget_student(School(root).store, SETTINGS, "TH01", LATER)

    def judge(self, root: Path, whole: Path) -> str:
        school, store = School(root), School(root).store
        with hold_lock(store, "nightly", LATER):
            sweep(store)
        left = set(files_that_name(store, self.named))
        is_sound(store)
        if left:
            assert {row["session_id"] for row in school.rows("sessions")} == {"A1", "B1", "C1"}
            assert "pages/TH01.html" in left
        assert forget_student(store, SETTINGS, "TH01", LATER).still_named_in == ()
        assert kept_rows(store) == kept_rows(School(whole).store)
        assert (store.runs / "r1.json").exists()
        assert school.night(LATER).landed == ()
        is_sound(store)
        return NOTHING if left else ALL


class Compacting(Scenario):
    """Merging three batches into one."""

    name = "compact"

    def prepare(self, root: Path) -> None:
        busy_school(root, nights=3)

    def act(self, root: Path) -> None:
        store = School(root).store
        with hold_lock(store, "compact", LATER):
            compact(store, 64)

    def judge(self, root: Path, whole: Path) -> str:
        store = School(root).store
        wanted = kept_rows(School(whole).store)
        assert kept_rows(store) == wanted
        count = len(store.committed_batches())
        assert count in (1, 3)
        self.act(root)
        with hold_lock(store, "nightly", LATER):
            sweep(store)
        assert kept_rows(store) == wanted
        assert len(list(store.sessions.glob("*.parquet"))) == 1
        assert School(root).night(LATER).landed == ()
        is_sound(store)
        return ALL if count == 1 else NOTHING


class Sweeping(Scenario):
    """Removing what a compacted batch replaces."""

    name = "sweep"

    def prepare(self, root: Path) -> None:
        store = busy_school(root, nights=3).store
        with hold_lock(store, "compact", LATER):
            compact(store, 64)

    def act(self, root: Path) -> None:
        store = School(root).store
        with hold_lock(store, "nightly", LATER):
            sweep(store)

    def judge(self, root: Path, whole: Path) -> str:
        store = School(root).store
        wanted = kept_rows(School(whole).store)
        assert kept_rows(store) == wanted
        left = len(list(store.sessions.iterdir()))
        self.act(root)
        assert kept_rows(store) == wanted
        assert len(list(store.sessions.iterdir())) == 2
        is_sound(store)
        return ALL if left == 2 else "a part"


class Reviewing(Scenario):
    """Storing one note."""

    name = "review"

    def prepare(self, root: Path) -> None:
        busy_school(root, nights=1)

    def act(self, root: Path) -> None:
        trend.withdraw(School(root).store, SETTINGS, "A1", "wrong log", LATER)

    def judge(self, root: Path, whole: Path) -> str:
        store = School(root).store
        rows = kept_rows(store)["reviews"]
        assert len(rows) in (0, 1)
        if not rows:
            self.act(root)
        assert kept_rows(store) == kept_rows(School(whole).store)
        with hold_lock(store, "nightly", LATER):
            sweep(store)
        is_sound(store)
        return ALL if rows else NOTHING


class BackingUp(Scenario):
    """Copying a store to a new folder."""

    name = "backup"

    def prepare(self, root: Path) -> None:
        busy_school(root, nights=2)

    def act(self, root: Path) -> None:
        store = School(root).store
        with hold_lock(store, "backup", LATER):
            back_up(store, root / "backup")

    def judge(self, root: Path, whole: Path) -> str:
        copy = Warehouse(root / "backup")
        is_there = copy.root.exists()
        if not is_there:
            self.act(root)
        is_sound(copy)
        wanted = kept_rows(School(whole).store)
        assert kept_rows(copy) == wanted
        assert kept_rows(School(root).store) == wanted
        assert not (root / ".backup.part").exists()
        return ALL if is_there else NOTHING


class Publishing(Scenario):
    """Putting a folder of pages in the place of another."""

    name = "pages"
    old = {f"students/{i}.html": f"old {i}" for i in range(3)} | {"index.html": "same"}
    new = {f"students/{i}.html": f"new {i}" for i in range(1, 5)} | {"index.html": "same"}

    def prepare(self, root: Path) -> None:
        publish(self.old.items(), root / "pages")

    def act(self, root: Path) -> None:
        publish(self.new.items(), root / "pages")

    def judge(self, root: Path, whole: Path) -> str:
        found = self.read(root)
        assert found in (self.old, self.new)
        self.act(root)
        assert self.read(root) == self.new
        assert [p.name for p in root.iterdir()] == ["pages"]
        return ALL if found == self.new else NOTHING

    def read(self, root: Path) -> dict[str, str]:
        """The pages as a reader finds them."""
        pages = root / "pages"
        files = (p for p in pages.rglob("*") if p.is_file())
        return {p.relative_to(pages).as_posix(): p.read_text() for p in files}


SCENARIOS: dict[str, Scenario] = {
    scenario.name: scenario
    for scenario in (
        Landing(),
        Measuring(),
        Forgetting(),
        Compacting(),
        Sweeping(),
        Reviewing(),
        BackingUp(),
        Publishing(),
    )
}
